"""Many yards in one table: a row for each, and all of them together, with what is unknown named and in no sum. Pure.

Rules:
1. A figure that nobody knows is None in a row, and it is missing from the sum, which says for how many yards or entries.
2. A yard that could not be read is no row of zeros: it stands beside the table, with its reason.
3. A row reads the same from a record and from a table that was written earlier.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from datetime import date
from functools import reduce
from typing import Any

from monitor.reports.report_sums import Sum
from monitor.reports.yard_report import Report


@dataclass(frozen=True, slots=True)
class Known:
    """An amount out of several entries, g or mL.

    Attributes:
        entries: How many entries there are.
        amount: The sum of what is known; 0 where nothing is.
        without: How many of the entries have a part that nobody knows.
        measured: The part of the amount that was weighed; for water 0.
    """

    entries: int = 0
    amount: int = 0
    without: int = 0
    measured: int = 0

    @property
    def told(self) -> int | None:
        """The amount, or None where there are entries and nobody knows anything of them."""
        return None if self.entries and self.without == self.entries and not self.amount else self.amount

    def plus(self, other: "Known") -> "Known":
        """Return both together."""
        return Known(*(getattr(self, one.name) + getattr(other, one.name) for one in fields(Known)))


@dataclass(frozen=True, slots=True, kw_only=True)
class YardRow:
    """One yard over some days; also all yards together, with the number of those that say something.

    Attributes:
        yard: Its name.
        time_zone: The zone by which its days are counted.
        first: The first day.
        last: The last day, which belongs to it.
        goes_on: Whether the time was not over when this was read.
        us: Whether the yard counts in lb and gal.
        taken_in: Deliveries, g.
        fed: Food of the worms, g.
        harvested: What was taken from the beds, g.
        given_out: What went to people, g.
        people: How many people got something.
        water: The water that was poured, mL.
        met: Heaps that met their rule.
        void: Heaps whose rule became void.
        turnings: Turnings, as they count.
        unlooked: Days without an entry, a reading by hand or an answer.
        counted: Of how many days.
        methane_g: The methane that is taken to be avoided, by the yard's own factor; None: it has none.
    """

    yard: str
    time_zone: str
    first: date
    last: date
    goes_on: bool
    us: bool = False
    taken_in: Known = field(default_factory=Known)
    fed: Known = field(default_factory=Known)
    harvested: Known = field(default_factory=Known)
    given_out: Known = field(default_factory=Known)
    people: int = 0
    water: Known = field(default_factory=Known)
    met: int = 0
    void: int = 0
    turnings: int = 0
    unlooked: int = 0
    counted: int = 0
    methane_g: int | None = None


@dataclass(frozen=True, slots=True)
class Unread:
    """A yard that could not be read: how it was named, and why."""

    yard: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Yards:
    """Many yards over the same days.

    Attributes:
        rows: The yards, in the order in which they were named.
        unread: Those that could not be read.
        together: All rows in one; its name, zone and days are those of the first.
        factors: How many of the yards have a factor for methane.
    """

    rows: Sequence[YardRow]
    unread: Sequence[Unread]
    together: YardRow
    factors: int


_AMOUNTS = tuple(one.name for one in fields(YardRow) if one.type is Known)
_COUNTS = tuple(one.name for one in fields(YardRow) if one.type is int)


def yard_row(report: Report, name: str, *, us: bool) -> YardRow:
    """Return the row of a yard.

    Args:
        report: Its report.
        name: Its name.
        us: Whether it counts in lb and gal.
    """
    turns = [one.what.value for one in report.heap_turns]
    return YardRow(
        yard=name,
        time_zone=report.span.zone.key,
        first=report.span.first,
        last=report.span.last,
        goes_on=report.goes_on,
        us=us,
        taken_in=_known(report.taken_in.mass),
        fed=_known(report.fed),
        harvested=_known(report.harvested),
        given_out=_known(report.given_out.mass),
        people=report.given_out.people,
        water=Known(report.watered.entries, report.watered.ml, report.watered.without),
        met=turns.count("met"),
        void=turns.count("void"),
        turnings=report.turnings.counted,
        unlooked=len(report.unlooked),
        counted=report.days_counted,
        methane_g=report.methane_g,
    )


def _known(mass: Sum) -> Known:
    return Known(mass.entries, mass.known_g, mass.without, mass.measured_g)


def all_yards(found: Iterable[YardRow | Unread]) -> Yards:
    """Return yards with all of them together.

    Args:
        found: The yards, in the order in which they were named.

    Raises:
        ValueError: None could be read.
    """
    listed = list(found)
    rows = [one for one in listed if isinstance(one, YardRow)]
    if not rows:
        raise ValueError("no yard could be read")
    methane = [one.methane_g for one in rows if one.methane_g is not None]
    sums: dict[str, Any] = {name: sum(getattr(one, name) for one in rows) for name in _COUNTS}
    sums |= {name: reduce(Known.plus, (getattr(one, name) for one in rows)) for name in _AMOUNTS}
    sums |= {"us": all(one.us for one in rows), "goes_on": any(one.goes_on for one in rows)}
    together = replace(rows[0], **sums, methane_g=sum(methane) if methane else None)
    return Yards(
        rows=rows,
        unread=[one for one in listed if isinstance(one, Unread)],
        together=together,
        factors=len(methane),
    )


def _kilo(amount: int | None) -> float | None:
    return None if amount is None else amount / 1000


FLAT: Mapping[str, Callable[[YardRow], Any]] = {
    "yard": lambda row: row.yard,
    "time_zone": lambda row: row.time_zone,
    "from": lambda row: row.first,
    "to": lambda row: row.last,
    "goes_on": lambda row: row.goes_on,
    "us": lambda row: row.us,
    "loads": lambda row: row.taken_in.entries,
    "taken_in_kg": lambda row: _kilo(row.taken_in.told),
    "taken_in_measured_kg": lambda row: row.taken_in.measured / 1000,
    "loads_without_amount": lambda row: row.taken_in.without,
    "feedings": lambda row: row.fed.entries,
    "fed_kg": lambda row: _kilo(row.fed.told),
    "fed_measured_kg": lambda row: row.fed.measured / 1000,
    "feedings_without_amount": lambda row: row.fed.without,
    "harvests": lambda row: row.harvested.entries,
    "harvested_kg": lambda row: _kilo(row.harvested.told),
    "harvested_measured_kg": lambda row: row.harvested.measured / 1000,
    "harvests_without_amount": lambda row: row.harvested.without,
    "givings": lambda row: row.given_out.entries,
    "given_out_kg": lambda row: _kilo(row.given_out.told),
    "given_out_measured_kg": lambda row: row.given_out.measured / 1000,
    "givings_without_amount": lambda row: row.given_out.without,
    "people": lambda row: row.people,
    "waterings": lambda row: row.water.entries,
    "water_litres": lambda row: _kilo(row.water.told),
    "waterings_without_amount": lambda row: row.water.without,
    "heaps_met": lambda row: row.met,
    "heaps_void": lambda row: row.void,
    "turnings": lambda row: row.turnings,
    "days_without_entry": lambda row: row.unlooked,
    "days_counted": lambda row: row.counted,
    "methane_kg": lambda row: _kilo(row.methane_g),
}
"""The columns of a row as a table has them, in order: a unit stands at the end of a name, and None is what nobody knows."""


def flat(row: YardRow) -> dict[str, Any]:
    """Return a row as the cells of a table, by the names of its columns."""
    return {name: of(row) for name, of in FLAT.items()}


def row_of(cells: Mapping[str, Any]) -> YardRow:
    """Return the row that the cells of a table say.

    Args:
        cells: The cells by the names of their columns, as `flat` makes them.

    Raises:
        ValueError: A cell is missing, or is no such figure; the message says which.
    """
    return YardRow(
        yard=_cell(cells, "yard", str),
        time_zone=_cell(cells, "time_zone", str),
        first=_cell(cells, "from", date),
        last=_cell(cells, "to", date),
        goes_on=_cell(cells, "goes_on", bool),
        us=_cell(cells, "us", bool),
        taken_in=_mass(cells, "loads", "taken_in_kg", "taken_in_measured_kg"),
        fed=_mass(cells, "feedings", "fed_kg", "fed_measured_kg"),
        harvested=_mass(cells, "harvests", "harvested_kg", "harvested_measured_kg"),
        given_out=_mass(cells, "givings", "given_out_kg", "given_out_measured_kg"),
        people=_cell(cells, "people", int),
        water=_amount(cells, "waterings", "water_litres"),
        met=_cell(cells, "heaps_met", int),
        void=_cell(cells, "heaps_void", int),
        turnings=_cell(cells, "turnings", int),
        unlooked=_cell(cells, "days_without_entry", int),
        counted=_cell(cells, "days_counted", int),
        methane_g=_grams(cells, "methane_kg") if cells.get("methane_kg") is not None else None,
    )


def _cell(cells: Mapping[str, Any], name: str, kind: type) -> Any:
    found = cells.get(name)
    is_one = isinstance(found, kind)
    if kind is int:
        is_one = isinstance(found, int) and not isinstance(found, bool) and found >= 0
    if not is_one:
        raise ValueError(f"its column {name} says {found!r}")
    return found


def _grams(cells: Mapping[str, Any], name: str) -> int:
    found = cells.get(name)
    if isinstance(found, bool) or not isinstance(found, int | float) or not 0 <= found < 1e12:
        raise ValueError(f"its column {name} says {found!r}")
    return round(found * 1000)


def _mass(cells: Mapping[str, Any], entries: str, name: str, measured: str) -> Known:
    return _amount(cells, entries, name, _grams(cells, measured))


def _amount(cells: Mapping[str, Any], entries: str, name: str, measured: int = 0) -> Known:
    amount = 0 if cells.get(name) is None else _grams(cells, name)
    return Known(_cell(cells, entries, int), amount, _cell(cells, f"{entries}_without_amount", int), measured)
