"""Probes out for a turning: which of their readings are not accepted, and when they are back if nobody logs it.

One probe's state at a time, a function of its readings by their own time (fed in order of time):

1. A turning takes the probe out at its instant. Readings from then on are kept, not accepted.
2. It is back at the instant of the first reading of a stretch in which every reading is at least 5 °C above ambient (as
   known at that reading), or if ambient is unknown, above its lowest reading since it went out; the stretch must
   last 30 min, its readings at most `max_gap` apart. The first reading 30 min or more after the stretch
   began proves it.
3. Its readings are accepted again from 60 min after it was back; never before rule 2 has proved it (this matters only
   if the 60 min are configured shorter than the 30). So no reading's acceptance is ever revised afterwards: those
   that come in while the 30 min run fall into the 60 min anyway.
4. `probe in` ends the outing at its instant; the 60 min follow.
5. A turning while the probe is out, or settling, begins the outing anew.
"""

from dataclasses import dataclass

from monitor.model.thresholds import PileThresholds


@dataclass(slots=True)
class OutingState:
    """One probe's outing.

    Attributes:
        out: When it went out, or None while it is in.
        returned: When it was back the last time, or None.
        accepted_from: First instant from which its readings are accepted; None while it is out.
        lowest: Its lowest reading since it went out, thousandths of a degree Celsius, or None.
        warm_from: Start of the stretch that may prove it is back, or None.
        newest: Its newest reading since it went out, or None.
        reminded: Number of reminders given (the caller counts them).
        with_cores: Whether a turning took it out, and it is back with the heap's core probes (set by the caller: no rule here).
        taken: Whether somebody took it out with `probe out`, so that no turning puts it back (set by the caller).
    """

    out: int | None = None
    returned: int | None = None
    accepted_from: int | None = 0
    lowest: int | None = None
    warm_from: int | None = None
    newest: int | None = None
    reminded: int = 0
    with_cores: bool = False
    taken: bool = False


@dataclass(frozen=True, slots=True)
class Weighed:
    """Whether a reading is accepted, and when the probe was back if this reading has just proved it."""

    accepted: bool
    returned_at: int | None = None


def go_out(state: OutingState, at: int) -> None:
    """Take the probe out at `at` (UTC ms): a turning, or `probe out`."""
    state.out, state.accepted_from = at, None
    state.lowest = state.warm_from = state.newest = None
    state.reminded = 0


def come_in(state: OutingState, at: int, thresholds: PileThresholds) -> None:
    """Note that somebody put the probe back: `probe in`, or a tap.

    Args:
        state: The probe's outing; changed in place.
        at: When, UTC ms.
        thresholds: Those of the pile.
    """
    _return(state, at, at + thresholds.settle_ms)


def weigh(state: OutingState, time: int, milli: int, ambient_milli: int | None, thresholds: PileThresholds) -> Weighed:
    """Take in the probe's next reading.

    Args:
        state: The probe's outing; changed in place.
        time: The reading's own time, UTC ms, later than the reading before.
        milli: Its value, thousandths of a degree Celsius.
        ambient_milli: Ambient as known at `time`, or None if it is not known.
        thresholds: Those of the pile.

    Returns:
        Whether the reading is accepted, and the probe's return if it proves it.
    """
    if state.out is None:
        return Weighed(state.accepted_from is None or time >= state.accepted_from)
    if time < state.out:
        return Weighed(accepted=True)
    lowest = milli if state.lowest is None else min(milli, state.lowest)
    base = lowest if ambient_milli is None else ambient_milli
    apart = state.newest is not None and time - state.newest > thresholds.max_gap_ms
    state.lowest, state.newest = lowest, time
    if milli < base + thresholds.back_above_milli_k:
        state.warm_from = None
        return Weighed(accepted=False)
    if state.warm_from is None or apart:
        state.warm_from = time
    if time < state.warm_from + thresholds.back_dwell_ms:
        return Weighed(accepted=False)
    back = state.warm_from
    _return(state, back, back + max(thresholds.settle_ms, thresholds.back_dwell_ms))
    return Weighed(time >= (state.accepted_from or 0), back)


def reminder_at(state: OutingState, thresholds: PileThresholds) -> int | None:
    """Return the instant of the next reminder that the probe is still out, UTC ms; None while it is in.

    Each reminder waits twice as long as the one before (our choice): 12 h, 1 day, 2 days, 4 days after it went out.
    """
    return None if state.out is None else state.out + thresholds.out_reminder_ms * 2**state.reminded


def _return(state: OutingState, back: int, accepted_from: int) -> None:
    state.out = state.lowest = state.warm_from = state.newest = None
    state.returned, state.accepted_from = back, accepted_from
    state.reminded, state.taken = 0, False
