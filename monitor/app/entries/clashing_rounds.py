"""Asks about a reading by hand of a minute that has another one already: people write minutes, and a slip is often typed anew.

Taken all the same, it stands beside the first one, and no rule counts the kinder of the two. It has no number of its own, for
its series and time are those of the first; taking that back takes back both. Nobody is asked about a value that may mean
dangerous heat.
"""

from collections.abc import Iterable, Iterator, Sequence

from monitor.app.entries.entry_log import Numbered
from monitor.model.alarm_kinds import WrongSide
from monitor.model.readings import Reading
from monitor.model.settings import Settings
from monitor.model.units import show_temperature, to_milli
from monitor.notices import beyond


def clashes(settings: Settings, entries: Iterable[Numbered], rows: Sequence[Reading]) -> Iterator[str]:
    """Yield a question for each entry that has another value of the same spot and minute.

    Args:
        settings: The settings in force.
        entries: The log.
        rows: The new readings.
    """
    new = {(row.probe, row.time): row for row in rows}
    for one in entries:
        if one.undone:
            continue
        other = [
            read
            for series, read in one.readings
            if (row := new.get((series, read.time))) is not None
            and (row.micro, row.unit) != (read.micro, read.unit)
            and not _is_hot(settings, one.place, row)
        ]
        if other:
            unit = settings.site.temperature_unit
            said = ", ".join(show_temperature(to_milli(read.micro, read.unit), unit) for read in other)
            yield (
                f"Entry {one.number} has {said} of that very minute. If that was a slip, take it back first "
                f"(log undo {one.number}) and write this down again. Should both stand, so that no rule counts the kinder one?"
            )


def standing_first(entries: Iterable[Numbered], rows: Sequence[Reading]) -> Numbered | None:
    """Return the entry beside which readings stand that brought nothing new; None if there is none."""
    new = {(row.probe, row.time) for row in rows}
    return next((one for one in entries if new & {(series, read.time) for series, read in one.readings}), None)


def _is_hot(settings: Settings, place: str, row: Reading) -> bool:
    meant = beyond(settings, place, to_milli(row.micro, row.unit))
    return meant is not None and meant.alarm.kind.side is WrongSide.ABOVE
