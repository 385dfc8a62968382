"""Doubts about a temperature read by hand: it may be a slip of the finger or of the unit, so the reader is asked.

1. People are asked about a value much colder than the spot's last one, if that is of the same heap or bed and at most two days
   old or still counts: neither loses so much from one round to the next. Nobody is asked if material was turned, thrown or
   brought onto the heap since, or if the reading may be another spot's in the same round, where spots have no names.
2. If the same number in the other unit would be near the last value, the question names that unit.
3. A value much colder than the others of its round, or of the place's last ones, is asked about where a slip explains it: the
   point (14.5 for 145), the hundred (41 for 141), or the unit.
4. Nobody is asked about a value that may mean dangerous heat: it rings first, and can be taken back.
"""

from collections.abc import Iterator, Sequence
from statistics import median

from monitor.engine.context.places import Places
from monitor.engine.context.read_spots import HandSpot, spots_at
from monitor.model.alarm_kinds import WrongSide
from monitor.model.readings import Reading, names_spot
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS
from monitor.model.units import DEGREES, show_difference, show_temperature, to_micro, to_milli
from monitor.model.work import Work
from monitor.model.work_kinds import declared
from monitor.notices import Facts, Phrases, beyond, join_names, said
from monitor.piles import ROUND_MS

FAR_MILLI_K = 25_000
"""A greater fall since the last value is a doubt (our choice)."""
NEXT_MS = 2 * DAY_MS
"""A value is compared with for at least this long, even if it counts for less (our choice)."""
NEAR_MILLI_K = 10_000
"""If the other unit brings the value this near to the last one, it was probably meant (our choice)."""

SLIPPED_MILLI_K = 12_500
"""A value so much colder than the others beside it may be a slip (our choice)."""

_OTHER = {"[degF]": "Cel", "Cel": "[degF]"}


def doubts(core: Places, works: Sequence[Work], rows: Sequence[Reading], now: int) -> Iterator[str]:
    """Yield questions about readings by hand.

    Args:
        core: The engine's state and settings.
        works: The logged work as corrected, in any order.
        rows: The readings.
        now: When the question is asked, UTC ms.
    """
    for row in rows:
        if row.unit in _OTHER and (question := _of_own_spot(core, works, row, now) or _beside(core, row, rows, now)):
            yield question


def _of_own_spot(core: Places, works: Sequence[Work], row: Reading, now: int) -> str:
    """Return the question about a fall since the spot was read last; "" if there is none."""
    known, milli = core.state.hands.get(row.probe), to_milli(row.micro, row.unit)
    if known is None or not _compares(core, known, row.time):
        return ""
    if _is_hot(core.settings, known.place, milli) or known.milli - milli <= FAR_MILLI_K:
        return ""
    if meant := _slipped(row, known.milli):
        return f"{_fell(core, row, known, now)} Was {meant} meant?"
    return "" if _is_reason(works, row, known) else f"{_fell(core, row, known, now)} Is the value right?"


def _beside(core: Places, row: Reading, rows: Sequence[Reading], now: int) -> str:
    """Return the question about a value that the others of its round, or of the place's last ones, show to be a slip; or ""."""
    where, milli = core.settings.place_of_hand(row.probe), to_milli(row.micro, row.unit)
    if where is None or _is_hot(core.settings, where[0], milli):
        return ""
    others = [to_milli(one.micro, one.unit) for one in rows if one.probe != row.probe and _of_round(core, one, row)]
    last = [one for name, one in spots_at(core.state.hands, where[0]).items() if name != row.probe]
    others += [one.milli for one in last if abs(one.time - row.time) <= ROUND_MS]
    others = others or [one.milli for one in last if _compares(core, one, row.time)]
    if not others and row.probe not in core.state.hands:
        return _frozen(core, row, now)
    meant = _slipped(row, round(median(others))) if others else ""
    if not meant or median(others) - milli < SLIPPED_MILLI_K:
        return ""
    unit = "degF" if row.unit == "[degF]" else "degC"
    beside = join_names([show_temperature(one, unit) for one in sorted(others, reverse=True)[:_TOLD]])
    say = Phrases(Facts(place=where[0], probe=row.probe, since=row.time, now=now), core.settings)
    typed = f"{row.micro / 1_000_000:g} {DEGREES[row.unit]}"
    return said(f"{say.place}{say.hand(row.probe)}: {typed} stands beside {beside}. Was {meant} meant?", now, say.zone)


def _frozen(core: Places, row: Reading, now: int) -> str:
    """Return the question about a first value below freezing that in °C would be a living bed or heap; "" if it is not so."""
    where, number = core.settings.place_of_hand(row.probe), row.micro / 1_000_000
    if where is None or row.unit != "[degF]" or not _LIVING_C[0] <= number < _FREEZES_F:
        return ""
    say = Phrases(Facts(place=where[0], probe=row.probe, since=row.time, now=now), core.settings)
    words = f"{say.place}{say.hand(row.probe)}: {number:g} °F is frozen through, and nothing was read there lately."
    return said(f"{words} Was {number:g} °C meant?", now, say.zone)


_LIVING_C, _FREEZES_F = (5, 31), 31
"""A number in this range is a usual temperature in °C, and frost in °F (our choice)."""
_TOLD = 3
"""So many values beside a doubtful one are named."""


def _of_round(core: Places, one: Reading, row: Reading) -> bool:
    place = core.settings.place_of_hand
    mine, other = place(row.probe), place(one.probe)
    same = mine is not None and other is not None and mine[0] == other[0]
    return same and one.unit in _OTHER and abs(one.time - row.time) <= ROUND_MS


def _slipped(row: Reading, near_milli: int) -> str:
    """Return the value that was probably meant, if a slip of unit, point or hundred brings it near another; else ""."""
    number = row.micro / 1_000_000
    slips = [(number, _OTHER[row.unit]), (number * 10, row.unit)]
    if row.unit == "[degF]" and 0 <= number < _HUNDRED:
        slips.append((number + _HUNDRED, row.unit))
    near = [(value, unit) for value, unit in slips if abs(to_milli(to_micro(value), unit) - near_milli) <= NEAR_MILLI_K]
    return f"{near[0][0]:g} {DEGREES[near[0][1]]}" if near else ""


_HUNDRED = 100


def _compares(core: Places, known: HandSpot, time: int) -> bool:
    """Return whether a reading of a spot at an instant (UTC ms) can be compared with its last value."""
    if not known.time < time <= max(known.held_until, known.time + NEXT_MS):
        return False
    if known.place in core.settings.bins:
        emptied = core.bed(known.place).state.emptied_at
        return emptied is None or emptied < known.time
    heap = core.batches.at(known.place, known.time)
    return heap is not None and heap is core.batches.at(known.place, time)


def _fell(core: Places, row: Reading, known: HandSpot, now: int) -> str:
    settings, milli = core.settings, to_milli(row.micro, row.unit)
    unit = "degF" if row.unit == "[degF]" else "degC"
    say = Phrases(Facts(place=known.place, probe=row.probe, since=known.time, now=now), settings)
    less = show_difference(known.milli - milli, unit)
    last = f"{show_temperature(known.milli, unit)}, {say.time(known.time)}"
    typed = f"{row.micro / 1_000_000:g} {DEGREES[row.unit]}"
    text = f"{say.place}{say.hand(row.probe)}: {typed} is {less} less than what was read last ({last})."
    return said(text, now, say.zone)


def _is_hot(settings: Settings, place: str, milli: int) -> bool:
    meant = beyond(settings, place, milli)
    return meant is not None and meant.alarm.kind.side is WrongSide.ABOVE


def _is_reason(works: Sequence[Work], row: Reading, known: HandSpot) -> bool:
    """Return whether a spot may be so much colder for another reason than a slip."""
    if not names_spot(row.probe) and row.time <= known.time + ROUND_MS:
        return True
    # Work with an amount brings material into the place or takes it away.
    stirred = (one for one in works if declared(one.kind).turns or declared(one.kind).dimensions)
    return any(known.place in (one.place, one.to) and known.time <= one.time <= row.time for one in stirred)
