"""Work and labels in CSV."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain
from pathlib import Path
from typing import TextIO

from monitor.model.delivery_risks import delivery_risks
from monitor.model.photo_names import photo_understood
from monitor.model.sightings import sighting
from monitor.model.times import show_time
from monitor.model.units import UNITS_OF, unit_code
from monitor.model.work import COLUMNS as WORK_FIELDS
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import PROBE_WORK, SIGHTS, typed_words
from monitor.recordings.file_problems import Problems, quoted
from monitor.recordings.formulas import defused
from monitor.recordings.kinds import COLUMNS, Kind
from monitor.recordings.sheet_forms import RECORDING, SheetForms, SheetQuestionError
from monitor.recordings.table import row_line, sheet_times, table_of
from monitor.recordings.values import storable

_UNITS = frozenset(chain.from_iterable(UNITS_OF.values()))
"""Units of readings: a unit stated for a whole file is meant for its readings, not for the work beside them."""


class LabelKind(StrEnum):
    """A person's judgement of a stretch of time, for tuning."""

    TROUBLE = "trouble"
    FINE = "fine"


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A stretch of time at a place that a person has judged; times are UTC ms."""

    place: str
    start: int
    end: int
    kind: LabelKind
    note: str = ""


def stream_work(
    path: Path, problems: Problems, forms: SheetForms = RECORDING, lines: list[int] | None = None
) -> Iterator[Work]:
    """Read the work of a file.

    Args:
        path: The file: Parquet, or CSV, plain or gzip.
        problems: Receives bad rows, which are left out.
        forms: A person's statements about how the file is written.
        lines: Receives the line number of each entry.

    Yields:
        The entries in the order of the file.

    Raises:
        UnavailableError: The file cannot be read.
        MisuseError: There is no such file, a row is bad and the problems are strict, or a cell could be read in two ways.
    """
    table = table_of(path, Kind.WORK, problems, forms)
    time_of = sheet_times(path, Kind.WORK, forms)
    for number, row in table.all_rows():
        cells = dict(zip(WORK_FIELDS, row, strict=True))
        try:
            kind = _work_kind(cells.pop("kind"))
            if "probe" in table.filled and kind not in PROBE_WORK:
                cells["probe"] = ""
            if "unit" in table.filled and (not cells["amount"].strip() or unit_code(cells["unit"]) in _UNITS):
                cells["unit"] = ""
            time, entered, place = cells.pop("time"), cells.pop("entered"), cells.pop("place")
            work = Work(
                time=time_of(time),
                place=_filled("place", place),
                kind=kind,
                entered=time_of(entered) if entered.strip() else None,
                **{name: _cell(name, text, time_of) for name, text in cells.items()},
            )
        except SheetQuestionError as question:
            raise question.misuse(table.file, number) from None
        except ValueError as fault:
            problems.add(table.file, number, str(fault))
            continue
        if lines is not None:
            lines.append(number)
        yield work


def read_work(
    path: Path, *, strict: bool = False, forms: SheetForms = RECORDING, lines: list[int] | None = None
) -> tuple[list[Work], Problems]:
    """Read all work of a file.

    Args:
        path: The file: Parquet, or CSV, plain or gzip.
        strict: Whether the first bad row is raised.
        forms: A person's statements about how the file is written.
        lines: Receives the line number of each entry.

    Returns:
        The entries in the order of the file, and its problems.

    Raises:
        MisuseError, UnavailableError: As `stream_work`.
    """
    problems = Problems(strict=strict)
    return list(stream_work(path, problems, forms, lines)), problems


def read_labels(path: Path, *, strict: bool = False, forms: SheetForms = RECORDING) -> tuple[list[Label], Problems]:
    """Read all labels of a file.

    Args:
        path: The file: Parquet, or CSV, plain or gzip.
        strict: Whether the first bad row is raised.
        forms: A person's statements about how the file is written.

    Returns:
        The labels in the order of the file, and its problems; a label that ends before it starts is a problem.

    Raises:
        MisuseError, UnavailableError: As `stream_work`.
    """
    problems = Problems(strict=strict)
    table = table_of(path, Kind.LABELS, problems, forms)
    labels: list[Label] = []
    time_of = sheet_times(path, Kind.LABELS, forms)
    for number, (place, start, end, kind, note) in table.all_rows():
        try:
            label = Label(
                place=_filled("place", place),
                start=time_of(start),
                end=time_of(end),
                kind=_label_kind(kind),
                note=note,
            )
            if label.end < label.start:
                raise ValueError("the end is before the start; the earlier time goes first")
        except SheetQuestionError as question:
            raise question.misuse(table.file, number) from None
        except ValueError as fault:
            problems.add(table.file, number, str(fault))
            continue
        labels.append(label)
    return labels, problems


def _cell(name: str, text: str, time_of: Callable[[str], int]) -> str:
    if name in ("start", "end"):
        return show_time(time_of(text)) if text.strip() else ""
    if name in SIGHTS:
        return sighting(name, text)
    if name == "risk":
        return delivery_risks(text)
    if name == "photo":
        return photo_understood(text)
    return text if name in ("by", "note") else text.strip()


def write_work(entries: Iterable[Work], out: TextIO) -> int:
    """Write work as CSV with all columns, and return the number of entries."""
    out.write(row_line(COLUMNS[Kind.WORK]))
    count = 0
    for work in entries:
        entered = "" if work.entered is None else show_time(work.entered)
        texts = (str(getattr(work, name)) for name in WORK_FIELDS[2:])
        out.write(row_line((show_time(work.time), entered, *(defused(storable(text)) for text in texts))))
        count += 1
    return count


def write_labels(labels: Iterable[Label], out: TextIO) -> int:
    """Write labels as CSV, and return their number."""
    out.write(row_line(COLUMNS[Kind.LABELS]))
    count = 0
    for label in labels:
        times = (show_time(label.start), show_time(label.end))
        out.write(row_line((defused(storable(label.place)), *times, label.kind.value, defused(storable(label.note)))))
        count += 1
    return count


def _filled(column: str, text: str) -> str:
    if not text.strip():
        raise ValueError(f"the {column} is empty; time, place and kind must be filled")
    return text.strip()


def _work_kind(text: str) -> WorkKind:
    # Accept the record's own word (`probe in`) as well as the word of the command line (`probe-in`).
    kind = typed_words().get("-".join(text.lower().split()))
    if kind is None:
        raise ValueError(f"{quoted(text)} is not a kind of work; these are: {', '.join(WorkKind)}")
    return kind


def _label_kind(text: str) -> LabelKind:
    try:
        return LabelKind(text.strip().lower())
    except ValueError:
        raise ValueError(f"{quoted(text)} is not a kind of label; these are: {', '.join(LabelKind)}") from None
