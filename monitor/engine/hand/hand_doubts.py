"""What a temperature read by hand is asked about before it is believed: a slip of the finger or of the unit.

1. A value much colder than the spot's last one, of the same heap or bed and at most two days or as long as a value counts ago,
   is asked about: that is more than they lose from one round to the next. What was turned, thrown or brought onto the heap
   since is reason enough, and so is another spot of one round where nobody names spots.
2. Where the same number in the other unit would be near the last value, that is what the question names.
3. Whatever may be a danger by heat is never asked about: it rings first, and can be taken back.
"""

from collections.abc import Iterator, Sequence

from monitor.engine.context.places import Places
from monitor.engine.context.read_spots import HandSpot
from monitor.model.alarm_kinds import WrongSide
from monitor.model.readings import Reading, names_spot
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS
from monitor.model.units import show_difference, show_temperature, to_milli
from monitor.model.work import Work
from monitor.model.work_kinds import declared
from monitor.notices import Facts, Phrases, beyond
from monitor.notices.instants import said
from monitor.piles import ROUND_MS

FAR_MILLI_K = 25_000
"""So much colder than the last value is asked about (ours)."""
NEXT_MS = 2 * DAY_MS
"""So long a value is compared with, where it counts for less (ours)."""
NEAR_MILLI_K = 10_000
"""So near the last value the other unit is taken to be meant (ours)."""

_OTHER = {"[degF]": "Cel", "Cel": "[degF]"}
_SIGNS = {"[degF]": "°F", "Cel": "°C"}


def doubts(core: Places, works: Sequence[Work], rows: Sequence[Reading], now: int) -> Iterator[str]:
    """Yield what is asked about readings by hand.

    Args:
        core: The engine's insides.
        works: Work that stands, in any order.
        rows: The readings.
        now: UTC ms.
    """
    for row in rows:
        known, milli = core.state.hands.get(row.probe), to_milli(row.micro, row.unit)
        if known is None or row.unit not in _OTHER or not _compares(core, known, row.time):
            continue
        if _is_hot(core.settings, known.place, milli) or known.milli - milli <= FAR_MILLI_K:
            continue
        meant = _OTHER[row.unit]
        if abs(to_milli(row.micro, meant) - known.milli) <= NEAR_MILLI_K:
            yield f"{_fell(core, row, known, now)} Was {row.micro / 1_000_000:g} {_SIGNS[meant]} meant?"
        elif not _is_reason(works, row, known):
            yield f"{_fell(core, row, known, now)} Is the value right?"


def _compares(core: Places, known: HandSpot, time: int) -> bool:
    """Tell whether the last value of a spot says something of what is read there at an instant (UTC ms)."""
    if not known.time < time <= max(known.held_until, known.time + NEXT_MS):
        return False
    if known.place in core.settings.bins:
        emptied = core.bed(known.place).state.emptied_at
        return emptied is None or emptied < known.time
    run = core.run_at(known.place)
    return run is not None and core.state.batches.batches[run.batch].spans[-1].start <= known.time


def _fell(core: Places, row: Reading, known: HandSpot, now: int) -> str:
    settings, milli = core.settings, to_milli(row.micro, row.unit)
    unit = "degF" if row.unit == "[degF]" else "degC"
    say = Phrases(Facts(place=known.place, probe=row.probe, since=known.time, now=now), settings)
    less = show_difference(known.milli - milli, unit)
    last = f"{show_temperature(known.milli, unit)}, {say.time(known.time)}"
    typed = f"{row.micro / 1_000_000:g} {_SIGNS[row.unit]}"
    text = f"{say.place}{say.hand(row.probe)}: {typed} is {less} less than what was read last ({last})."
    return said(text, now, say.zone)


def _is_hot(settings: Settings, place: str, milli: int) -> bool:
    meant = beyond(settings, place, milli)
    return meant is not None and meant.alarm.kind.side is WrongSide.ABOVE


def _is_reason(works: Sequence[Work], row: Reading, known: HandSpot) -> bool:
    """Tell whether something else than a slip may be why a spot is so much colder."""
    if not names_spot(row.probe) and row.time <= known.time + ROUND_MS:
        return True
    # What a kind of work has an amount of came into the place or left it.
    stirred = (one for one in works if declared(one.kind).turns or declared(one.kind).dimensions)
    return any(known.place in (one.place, one.to) and known.time <= one.time <= row.time for one in stirred)
