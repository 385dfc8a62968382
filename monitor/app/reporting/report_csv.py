"""A report as CSV that opens in a spreadsheet: one table of lines, each figure in a cell of its own, masses in the yard's unit.

A cell that a spreadsheet would run as a formula is made text. The byte order mark in front is for spreadsheets, which otherwise
take UTF-8 for something else.
"""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

from monitor.model.times import show_time
from monitor.model.work import WorkKind
from monitor.recordings import defused
from monitor.reports import Report, Sum

COLUMNS = (
    "part", "month", "time", "from", "what", "entries", "unit", "amount", "measured", "estimated", "standard_error",
    "dry", "without_amount", "note",
)  # fmt: skip
_FIGURES = frozenset({"entries", "amount", "measured", "estimated", "standard_error", "dry", "without_amount"})
_LB_G, _GAL_ML = 453.59237, 3785.411784
_Line = dict[str, str]


def report_csv(report: Report, *, us: bool) -> bytes:
    """Return a report as CSV, in lb and gal where the yard is a US one, else in kg and L.

    Args:
        report: The report.
        us: Whether the yard is a US one.
    """
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    for line in _lines(report, us=us):
        # Figures are our own, and a number below 0 is no formula.
        writer.writerow({key: cell if key in _FIGURES else defused(cell) for key, cell in line.items()})
    return out.getvalue().encode("utf-8-sig")


def _lines(report: Report, *, us: bool) -> Iterator[_Line]:
    cells = _Cells(*(("lb", _LB_G) if us else ("kg", 1000.0)))
    for row in report.rows:
        error = cells.weight(row.doubt.error_g) if row.doubt.error_g else ""
        named = {"part": "taken in", "month": row.month, "from": row.supplier, "what": row.material}
        yield named | cells.masses(row.mass) | {"standard_error": error}
    for work in report.refused:
        yield _when(report, "sent back", work.time) | {"from": work.source, "what": work.what, "note": work.refused}
    for one in report.heap_turns:
        yield _when(report, f"rule {one.what.value}", one.at) | {"what": one.batch, "note": one.rule}
    yield {"part": "turnings", "amount": str(report.turnings.counted), "entries": str(report.turnings.logged)}
    yield from _moved(report, cells)
    volume = report.watered.ml / (_GAL_ML if us else 1000)
    water = {"part": "water", "entries": str(report.watered.entries), "without_amount": str(report.watered.without)}
    yield water | {"unit": "gal" if us else "L", "amount": _figure(volume)}
    for work in report.told:
        yield _when(report, work.kind.value, work.time) | {"what": work.spot, "note": work.note}
    yield {"part": "days without an entry", "amount": str(len(report.unlooked)), "entries": str(report.days_counted)}
    for day in report.unlooked:
        yield {"part": "day without an entry", "month": f"{day:%Y-%m}", "time": day.isoformat()}
    if report.factor is not None and report.methane_g is not None:
        avoided = {"part": "methane avoided", "unit": cells.unit, "amount": cells.weight(report.methane_g)}
        yield avoided | {"note": report.factor.source}


def _moved(report: Report, cells: "_Cells") -> Iterator[_Line]:
    yield {"part": WorkKind.FED.value} | cells.masses(report.fed)
    yield {"part": WorkKind.HARVESTED.value} | cells.masses(report.harvested)
    for name, mass in report.screened.items():
        yield {"part": WorkKind.SCREENED.value, "what": name} | cells.masses(mass)
    given = report.given_out
    yield {"part": WorkKind.GIVEN.value} | cells.masses(given.mass)
    for name, count in given.containers.items():
        yield {"part": WorkKind.GIVEN.value, "what": "containers", "unit": name, "amount": _figure(float(count))}
    yield {"part": "people who got some", "amount": str(given.people)}
    for lost in report.gone:
        dry = "" if lost.dry_g is None else cells.weight(lost.dry_g)
        named = _when(report, "gone", lost.at) | {"what": lost.node.id, "note": lost.kind.value}
        yield named | {"unit": cells.unit, "amount": cells.weight(lost.wet_g), "dry": dry}
    for gap in report.gaps:
        yield {"part": "gap", "what": gap.node.id, "unit": "%", "amount": f"{gap.percent:.1f}"}


@dataclass(frozen=True, slots=True)
class _Cells:
    """Cells of masses in one unit."""

    unit: str
    grams: float

    def weight(self, grams: float) -> str:
        return _figure(grams / self.grams)

    def masses(self, mass: Sum) -> _Line:
        return {
            "entries": str(mass.entries), "unit": self.unit, "amount": self.weight(mass.known_g),
            "measured": self.weight(mass.measured_g), "estimated": self.weight(mass.estimated_g),
            "dry": self.weight(mass.dry_g) if mass.dry_g or not mass.undried else "", "without_amount": str(mass.without),
        }  # fmt: skip


def _when(report: Report, part: str, at: int) -> _Line:
    return {"part": part, "month": report.span.month_of(at), "time": show_time(at)}


def _figure(value: float) -> str:
    # Hundredths: masses are whole grams inside, and 40 lb must not become 40.001.
    return f"{value:.2f}".rstrip("0").rstrip(".")
