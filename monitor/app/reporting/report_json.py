"""A report as plain JSON, for programs; masses in kg, water in litres."""

from typing import Any

from monitor.model.times import show_time
from monitor.model.work import WorkKind
from monitor.reports import Report, Sum, TakenIn, Turn


def report_json(report: Report) -> dict[str, Any]:
    """Return a report as plain JSON."""
    return {
        "name": report.span.name,
        "from": show_time(report.span.start),
        "to": show_time(report.span.end),
        "time_zone": report.span.zone.key,
        "goes_on": report.goes_on,
        "taken_in": [
            {"month": row.month, "from": row.supplier, "material": row.material, **_taken(row)} for row in report.rows
        ],
        "taken_in_all": _taken(report.taken_in),
        "refused": [
            {"time": show_time(work.time), "from": work.source, "material": work.what, "why": work.refused}
            for work in report.refused
        ],
        "met": _heaps(report, Turn.MET),
        "void": _heaps(report, Turn.VOID),
        "turnings": report.turnings.counted,
        "turnings_logged": report.turnings.logged,
        **_moved(report),
        "told": [
            {"time": show_time(work.time), "what": work.kind.value, "note": work.note, "spot": work.spot}
            for work in report.told
        ],
        "days_without_entry": [day.isoformat() for day in report.unlooked],
        "days_counted": report.days_counted,
        "methane": _methane(report),
    }


def _heaps(report: Report, what: Turn) -> list[dict[str, Any]]:
    return [
        {"heap": one.batch, "place": one.place, "rule": one.rule, "time": show_time(one.at)}
        for one in report.heap_turns
        if one.what is what
    ]


def _moved(report: Report) -> dict[str, Any]:
    return {
        WorkKind.FED.value: _sum(report.fed),
        WorkKind.HARVESTED.value: _sum(report.harvested),
        WorkKind.SCREENED.value: {name: _sum(mass) for name, mass in report.screened.items()},
        "given_out": {
            **_sum(report.given_out.mass),
            "containers": {unit: float(count) for unit, count in report.given_out.containers.items()},
            "people": report.given_out.people,
        },
        "water": {
            "entries": report.watered.entries,
            "litres": report.watered.ml / 1000,
            "without_amount": report.watered.without,
        },
        "gone": [
            {
                "time": show_time(one.at), "of": one.node.id, "by": one.kind.value, "kg": one.wet_g / 1000,
                "dry_kg": None if one.dry_g is None else one.dry_g / 1000,
            }
            for one in report.gone
        ],
        "gaps": [{"of": one.node.id, "percent": round(one.percent, 1)} for one in report.gaps],
    }  # fmt: skip


def _methane(report: Report) -> dict[str, Any] | None:
    if report.factor is None or report.methane_g is None:
        return None
    return {"kg": report.methane_g / 1000, "factor": report.factor.kg_per_kg, "source": report.factor.source}


def _sum(mass: Sum) -> dict[str, Any]:
    return {
        "entries": mass.entries,
        "kg": mass.known_g / 1000,
        "measured_kg": mass.measured_g / 1000,
        "estimated_kg": mass.estimated_g / 1000,
        "without_amount": mass.without,
        "dry_kg": mass.dry_g / 1000,
        "without_dry": mass.undried,
    }


def _taken(row: TakenIn) -> dict[str, Any]:
    return {
        **_sum(row.mass),
        "measured_share": row.mass.measured_share,
        "standard_error_kg": round(row.doubt.error_g / 1000, 3),
        "weighed_once": row.doubt.once,
    }
