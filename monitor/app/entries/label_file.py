"""Keeps the labels of a yard: a CSV file in the data folder, beside the journal; see `docs/decisions/26-labels.md`.

Rules: a label changes no decision, so it is no event and needs no writer. The file has the form of recordings (design section
3), so spreadsheets open it. It is replaced as a whole, never left half written.
"""

import io
from collections.abc import Sequence
from pathlib import Path

from monitor.app.console.whole_files import replace_text
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError
from monitor.model.times import YEAR_2000_MS, parse_time, show_time
from monitor.recordings import COLUMNS, Kind, Label, LabelKind, SheetForms, header_fields, read_labels, write_labels
from monitor.tuning import Stretch

NAME = "labels.csv"
_YEAR_2100_MS = parse_time("2100-01-01T00:00:00Z")


def labels_path(configuration: Configuration) -> Path:
    """Return the path of a yard's labels."""
    return configuration.data / NAME


def yard_labels(configuration: Configuration) -> list[Label]:
    """Return the labels of a yard; raises as `load_labels`."""
    return load_labels(labels_path(configuration), configuration.settings.site.time_zone)


def load_labels(path: Path, time_zone: str = "") -> list[Label]:
    """Return the labels of a file, ordered by place and time; none if there is no file.

    Args:
        path: The CSV file.
        time_zone: The zone of times that name none.

    Raises:
        MisuseError: A row is wrong. The file is read whole or not at all, because saving replaces it.
    """
    if not path.exists() or not path.stat().st_size:
        return []
    labels, problems = read_labels(path, forms=SheetForms(time_zone=time_zone))
    wrong = list(problems.sentences())
    wrong += [
        f"{path}: the label of {one.place} from {show_time(one.start)} does not lie between the years 2000 and 2100."
        for one in labels
        if one.start < YEAR_2000_MS or one.end >= _YEAR_2100_MS
    ]
    if wrong:
        raise MisuseError("\n".join(wrong))
    return sorted(labels, key=_order)


def save_labels(path: Path, labels: Sequence[Label]) -> None:
    """Replace the file by these labels.

    Raises:
        MisuseError: The file has columns that people added, which would be lost.
        UnavailableError: The file cannot be written.
    """
    own = _own_columns(path)
    if own:
        raise MisuseError(
            f"{path} has columns of your own ({', '.join(own)}), which would be lost. Add the label in the file itself, or "
            "keep those columns elsewhere."
        )
    text = io.StringIO()
    write_labels(sorted(labels, key=_order), text)
    replace_text(path, text.getvalue())


def _own_columns(path: Path) -> list[str]:
    if not path.exists():
        return []
    with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
        head = file.readline()
    names = header_fields(head, ";" if ";" in head else ",")
    return [name for name in names if name.strip() and name.strip().lower() not in COLUMNS[Kind.LABELS]]


def stretches_of(labels: Sequence[Label]) -> list[Stretch]:
    """Return labels in the form that tuning takes."""
    return [
        Stretch(
            place=label.place,
            start=label.start,
            end=label.end,
            trouble=label.kind is LabelKind.TROUBLE,
            note=label.note,
        )
        for label in labels
    ]


def _order(label: Label) -> tuple[str, int, int, str]:
    return label.place, label.start, label.end, label.note
