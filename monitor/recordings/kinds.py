"""The kinds of recordings, and the columns of each."""

from enum import StrEnum

from monitor.model.work import COLUMNS as WORK_FIELDS


class Kind(StrEnum):
    """Kinds of recordings."""

    READINGS = "readings"
    WORK = "work"
    LABELS = "labels"
    EVENTS = "events"


COLUMNS: dict[Kind, tuple[str, ...]] = {
    Kind.READINGS: (
        "time", "probe", "quantity", "value", "unit", "received", "quality", "spot", "depth", "by", "with",
    ),
    Kind.WORK: tuple("from" if name == "source" else name for name in WORK_FIELDS),
    Kind.LABELS: ("place", "start", "end", "kind", "note"),
}  # fmt: skip
"""The columns of each kind, in the order in which they are written."""

INSTANTS = ("time", "received", "entered", "start", "end")
"""Columns of all kinds that hold an instant."""

NEEDED: dict[Kind, tuple[str, ...]] = {
    Kind.READINGS: COLUMNS[Kind.READINGS][:5],
    Kind.WORK: ("time", "place", "kind"),
    Kind.LABELS: ("place", "start", "end", "kind"),
}
"""The columns without which a file is none of its kind."""
