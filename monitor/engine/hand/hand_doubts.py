"""Doubts about a temperature read by hand: it may be a slip of the finger or of the unit, so the reader is asked.

1. People are asked about a value much colder than the spot's last one, if that is of the same heap or bed and at most two days
   old or still counts: neither loses so much from one round to the next. Nobody is asked if material was turned, thrown or
   brought onto the heap since, or if the reading may be another spot's in the same round, where spots have no names.
2. If the same number in the other unit would be near the last value, the question names that unit.
3. Nobody is asked about a value that may mean dangerous heat: it rings first, and can be taken back.
"""

from collections.abc import Iterator, Sequence

from monitor.engine.context.places import Places
from monitor.engine.context.read_spots import HandSpot
from monitor.model.alarm_kinds import WrongSide
from monitor.model.readings import Reading, names_spot
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS
from monitor.model.units import DEGREES, show_difference, show_temperature, to_milli
from monitor.model.work import Work
from monitor.model.work_kinds import declared
from monitor.notices import Facts, Phrases, beyond, said
from monitor.piles import ROUND_MS

FAR_MILLI_K = 25_000
"""A greater fall since the last value is a doubt (our choice)."""
NEXT_MS = 2 * DAY_MS
"""A value is compared with for at least this long, even if it counts for less (our choice)."""
NEAR_MILLI_K = 10_000
"""If the other unit brings the value this near to the last one, it was probably meant (our choice)."""

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
        known, milli = core.state.hands.get(row.probe), to_milli(row.micro, row.unit)
        if known is None or row.unit not in _OTHER or not _compares(core, known, row.time):
            continue
        if _is_hot(core.settings, known.place, milli) or known.milli - milli <= FAR_MILLI_K:
            continue
        meant = _OTHER[row.unit]
        if abs(to_milli(row.micro, meant) - known.milli) <= NEAR_MILLI_K:
            yield f"{_fell(core, row, known, now)} Was {row.micro / 1_000_000:g} {DEGREES[meant]} meant?"
        elif not _is_reason(works, row, known):
            yield f"{_fell(core, row, known, now)} Is the value right?"


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
