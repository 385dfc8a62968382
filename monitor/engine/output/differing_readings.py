"""Differences between a reading by hand and the probes of its place: remembered and shown until they agree again.

Rules:
1. They differ if even the nearest probe value of the place is more than `hand_apart` (5 °C) from the reading by hand.
2. A difference lasts until a new reading of either kind is within that of the other, until the reading by hand counts no
   longer, or for 24 h.
"""

from collections.abc import Sequence

from monitor.engine.context.core import Core
from monitor.engine.context.places import Places
from monitor.engine.context.read_spots import Apart
from monitor.engine.output.alarm_facts import written
from monitor.model.flags import Verdict
from monitor.model.times import DAY_MS
from monitor.model.units import Quantity
from monitor.notices import Facts, Message

LASTS_MS = DAY_MS


def furthest_apart(core: Places, place: str, verdicts: Sequence[Verdict]) -> tuple[Verdict, str, int] | None:
    """Return the nearest pair of a reading by hand and a probe if even that is too far apart.

    Args:
        core: The engine's state and settings.
        place: Pile or bin.
        verdicts: The readings by hand, as flagged.

    Returns:
        (reading by hand, probe, the probe's value in thousandths of °C), or None.
    """
    limits = core.settings.probe_thresholds
    nearest = _nearest(core, place, verdicts)
    if nearest is None:
        return None
    apart, verdict, probe, milli = nearest
    return (verdict, probe, milli) if apart > limits.hand_apart_milli_k else None


def remember_apart(core: Places, place: str, verdicts: Sequence[Verdict]) -> Apart | None:
    """Take in the readings by hand of a place, and remember or forget its difference.

    Args:
        core: The engine's state and settings.
        place: Pile or bin.
        verdicts: The readings by hand, as flagged.

    Returns:
        The difference, or None where they agree or there is nothing to compare.
    """
    found = furthest_apart(core, place, verdicts)
    if found is not None:
        verdict, probe, milli = found
        core.state.apart[place] = Apart(verdict.probe, verdict.time, verdict.milli, probe, milli)
        return core.state.apart[place]
    if _nearest(core, place, verdicts) is not None:
        core.state.apart.pop(place, None)
    return None


def follow_apart(core: Places, probe: str, milli: int) -> None:
    """Take in an accepted reading of a probe, which ends a difference if it is near the reading by hand.

    Args:
        core: The engine's state and settings.
        probe: The probe.
        milli: Its value, thousandths of the quantity's unit.
    """
    known = core.state.apart.get(core.place_of(probe))
    quantity = core.settings.probes[probe].quantity
    if known is None or quantity is not Quantity.TEMPERATURE or not core.in_service(probe):
        return
    if abs(milli - known.hand_milli) <= core.settings.probe_thresholds.hand_apart_milli_k:
        del core.state.apart[core.place_of(probe)]


def forget_apart(core: Places, place: str, series: str | None = None) -> None:
    """Forget the difference at a place.

    Args:
        core: The engine's state.
        place: Pile or bin.
        series: Forget it only if it is of this series; None: in any case.
    """
    known = core.state.apart.get(place)
    if known is not None and series in (None, known.series):
        del core.state.apart[place]


def apart_words(core: Core, place: str) -> Message | None:
    """Return the words of the difference at a place at `core.at`; None if there is none or it is too old."""
    known = core.state.apart.get(place)
    if known is None or core.at - known.time >= LASTS_MS:
        return None
    watch = core.state.watches.get(known.probe)
    here = watch is not None and core.place_of(known.probe) == place and core.in_service(known.probe)
    newest = watch.accepted_milli if here and watch is not None else None
    return written(core, "apart", facts_of_apart(core, place, known, newest))


def facts_of_apart(core: Places, place: str, known: Apart, newest: int | None = None) -> Facts:
    """Return the facts of a difference.

    Args:
        core: The engine's state.
        place: Pile or bin.
        known: The difference.
        newest: What the probe shows by now, thousandths of °C; None: what it showed then.
    """
    return Facts(
        place=place, probe=known.probe, value_milli=known.milli if newest is None else newest, since=known.time,
        now=core.at, hand_milli=known.hand_milli, hand_series=known.series,
    )  # fmt: skip


def _nearest(core: Places, place: str, verdicts: Sequence[Verdict]) -> tuple[int, Verdict, str, int] | None:
    """Return (distance, reading by hand, probe, its value) of the nearest pair; None where there is nothing to compare."""
    limits = core.settings.probe_thresholds
    pairs: list[tuple[int, Verdict, str, int]] = []
    for probe, configured in core.probes_of(place):
        watch = core.state.watches.get(probe)
        if configured.quantity is not Quantity.TEMPERATURE or watch is None or not core.in_service(probe):
            continue
        if watch.accepted_milli is None or watch.accepted_time is None or watch.silent or watch.broken:
            continue
        pairs += [
            (abs(watch.accepted_milli - one.milli), one, probe, watch.accepted_milli)
            for one in verdicts
            if abs(watch.accepted_time - one.time) <= limits.silent_min_ms
        ]
    return min(pairs, key=lambda pair: (pair[0], pair[2], pair[1].probe), default=None)
