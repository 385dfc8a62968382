"""A table of many yards in words and as JSON: a row for each yard, all together, and what nobody knows."""

from collections.abc import Callable, Iterator
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from monitor.app.console.measures import Measures
from monitor.app.reporting.report_words import mass_said
from monitor.notices import clean
from monitor.reports import Known, Section, Span, Sum, YardRow, Yards, flat

_NOTHING = "–"
_COLUMNS = (
    "Yard", "Taken in", "Fed", "Harvested", "Given out", "People", "Water", "Rule met", "Void", "Turnings",
    "Days without an entry",
)  # fmt: skip


def yards_heading(yards: Yards) -> str:
    """Return the heading of a table: how many yards, the days, and whether these are over.

    Args:
        yards: The yards.
    """
    count, one = len(yards.rows), yards.together
    name = Span(one.first, one.last, ZoneInfo(one.time_zone)).name
    return f"{count} {'yard' if count == 1 else 'yards'}, {name}{', so far' if one.goes_on else ''}"


def yards_sections(yards: Yards) -> list[Section]:
    """Return the sections of a table.

    Args:
        yards: The yards.
    """
    measures = Measures(yards.together.us)
    rows = [_row(one, clean(one.yard), measures) for one in yards.rows]
    unread = bool(yards.unread)
    if len(rows) > 1 or unread:
        rows.append(_row(yards.together, "All together", measures, unread=unread))
    table = Section("Yards", _COLUMNS, tuple(rows), tuple(_notes(yards)))
    methane = Section("Methane avoided, by the yards' own factors", lines=tuple(_methane(yards, measures)))
    lines = tuple(f"{clean(one.yard, 300)}: {clean(one.why, 300)}" for one in yards.unread)
    missing = Section("Could not be read, and in no sum", lines=lines)
    return [one for one in (table, methane, missing) if one.rows or one.lines]


def _row(row: YardRow, name: str, measures: Measures, *, unread: bool = False) -> tuple[str, ...]:
    masses = (row.taken_in, row.fed, row.harvested, row.given_out)
    least = "at least " if unread else ""

    def said(known: Known) -> str:
        words = mass_said(Sum(known.entries, known.measured, known.amount - known.measured, known.without), measures)
        return words if words == _NOTHING or "nobody" in words or words.startswith("at least") else f"{least}{words}"

    water = measures.water(row.water.amount) if row.water.amount else ""
    poured = water if not row.water.without else f"at least {water}" if water else "nobody knows how much"
    return (
        name,
        *map(said, masses),
        str(row.people),
        (poured if poured.startswith(("at least", "nobody")) else f"{least}{poured}")
        if row.water.entries
        else _NOTHING,
        str(row.met),
        str(row.void),
        str(row.turnings),
        f"{row.unlooked} of {row.counted}" if row.counted else "no whole day",
    )


def _notes(yards: Yards) -> Iterator[str]:
    for known, one, more in _ENTRIES:
        lacking = [(clean(row.yard), without) for row in yards.rows if (without := known(row).without)]
        count = sum(without for _, without in lacking)
        if count:
            where = ", ".join(f"{name} {without}" for name, without in lacking[:_SHOWN])
            rest = f" and {len(lacking) - _SHOWN} more yards" if len(lacking) > _SHOWN else ""
            yield f"{count} {one if count == 1 else more} without an amount, in no sum: {where}{rest}."
    zones = sorted({row.time_zone for row in yards.rows})
    if len(zones) > 1:
        yield f"Each yard's days are those of its own time zone ({len(zones)} zones)."


_SHOWN = 5
_ENTRIES: tuple[tuple[Callable[[YardRow], Known], str, str], ...] = (
    (lambda row: row.taken_in, "load", "loads"),
    (lambda row: row.fed, "feeding", "feedings"),
    (lambda row: row.harvested, "harvest", "harvests"),
    (lambda row: row.given_out, "handing out", "handings out"),
    (lambda row: row.water, "watering", "waterings"),
)


def _methane(yards: Yards, measures: Measures) -> Iterator[str]:
    if yards.together.methane_g is None:
        return
    lacking = [clean(row.yard) for row in yards.rows if row.methane_g is None]
    least = "At least " if lacking or yards.unread or yards.together.taken_in.without else ""
    yield f"{least}{measures.mass(yards.together.methane_g)}, of {yards.factors} of {len(yards.rows)} yards."
    if lacking:
        rest = f" and {len(lacking) - _SHOWN} more" if len(lacking) > _SHOWN else ""
        yield f"No factor, so no figure: {', '.join(lacking[:_SHOWN])}{rest}."


def yards_json(yards: Yards) -> dict[str, Any]:
    """Return a table as plain JSON, for programs."""
    own = ("yard", "time_zone", "from", "to", "us")
    together = {name: value for name, value in _plain(yards.together).items() if name not in own}
    return {
        "yards": [_plain(row) for row in yards.rows],
        "all_together": together | {"yards_with_a_factor": yards.factors},
        "unread": [{"yard": one.yard, "why": one.why} for one in yards.unread],
    }


def _plain(row: YardRow) -> dict[str, Any]:
    return {name: value.isoformat() if isinstance(value, date) else value for name, value in flat(row).items()}
