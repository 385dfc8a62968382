"""Work and labels in CSV."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import chain
from pathlib import Path
from typing import TextIO

from monitor.model.delivery_risks import delivery_risks
from monitor.model.sightings import sighting
from monitor.model.times import show_time
from monitor.model.units import UNITS_OF, unit_code
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import ABSENCE, FIGURES, PROBE_WORK, SIGHTS, typed_words
from monitor.recordings.file_problems import Problems, quoted
from monitor.recordings.formulas import defused
from monitor.recordings.sheet_forms import RECORDING, SheetForms, SheetQuestionError
from monitor.recordings.table import COLUMNS, Kind, Table, row_line, sheet_times

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
        path: The file, plain or gzip.
        problems: Receives bad rows, which are left out.
        forms: A person's statements about how the file is written.
        lines: Receives the line number of each entry.

    Yields:
        The entries in the order of the file.

    Raises:
        UnavailableError: The file cannot be read.
        MisuseError: There is no such file, a row is bad and the problems are strict, or a cell could be read in two ways.
    """
    table = Table(path, Kind.WORK, problems, forms)
    time_of = sheet_times(path, Kind.WORK, forms)
    for number, row in table.all_rows():
        time, entered, place, to, batch, probe, kind, amount, measure, by, note, *rest = row
        unit, source, what, spot, *more, risk, refused, contact, start, end = rest
        seen, figures = more[: len(SIGHTS)], more[len(SIGHTS) :]
        try:
            what_kind = _work_kind(kind)
            if "probe" in table.filled and what_kind not in PROBE_WORK:
                probe = ""
            if "unit" in table.filled and (not amount.strip() or unit_code(unit) in _UNITS):
                unit = ""
            work = Work(
                time=time_of(time),
                place=_filled("place", place),
                kind=what_kind,
                entered=time_of(entered) if entered.strip() else None,
                to=to.strip(),
                batch=batch.strip(),
                probe=probe.strip(),
                amount=amount.strip(),
                measure=measure.strip(),
                by=by,
                note=note,
                unit=unit.strip(),
                source=source.strip(),
                what=what.strip(),
                spot=spot.strip(),
                risk=delivery_risks(risk),
                refused=refused.strip(),
                contact=contact.strip(),
                start=show_time(time_of(start)) if start.strip() else "",
                end=show_time(time_of(end)) if end.strip() else "",
                **{name: sighting(name, text) for name, text in zip(SIGHTS, seen, strict=True)},
                **{name: text.strip() for name, text in zip(FIGURES, figures, strict=True)},
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
        path: The file, plain or gzip.
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
        path: The file, plain or gzip.
        strict: Whether the first bad row is raised.
        forms: A person's statements about how the file is written.

    Returns:
        The labels in the order of the file, and its problems; a label that ends before it starts is a problem.

    Raises:
        MisuseError, UnavailableError: As `stream_work`.
    """
    problems = Problems(strict=strict)
    table = Table(path, Kind.LABELS, problems, forms)
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


def write_work(entries: Iterable[Work], out: TextIO) -> int:
    """Write work as CSV with all columns, and return the number of entries."""
    out.write(row_line(COLUMNS[Kind.WORK]))
    count = 0
    for work in entries:
        entered = "" if work.entered is None else show_time(work.entered)
        texts = (work.place, work.to, work.batch, work.probe, work.kind.value, work.amount, work.measure, work.by)
        seen = (getattr(work, name) for name in (*SIGHTS, *FIGURES))
        absence = (getattr(work, name) for name in ABSENCE)
        more = (work.note, work.unit, work.source, work.what, work.spot, *seen, work.risk, work.refused, *absence)
        out.write(row_line((show_time(work.time), entered, *(defused(_clean(text)) for text in (*texts, *more)))))
        count += 1
    return count


def write_labels(labels: Iterable[Label], out: TextIO) -> int:
    """Write labels as CSV, and return their number."""
    out.write(row_line(COLUMNS[Kind.LABELS]))
    count = 0
    for label in labels:
        times = (show_time(label.start), show_time(label.end))
        out.write(row_line((defused(_clean(label.place)), *times, label.kind.value, defused(_clean(label.note)))))
        count += 1
    return count


def _clean(text: str) -> str:
    """Return a text that can stand in a UTF-8 file: a NUL or half a surrogate pair becomes U+FFFD."""
    if "\x00" in text:
        text = text.replace("\x00", "\ufffd")
    try:
        text.encode()
    except UnicodeEncodeError:
        return "".join("\ufffd" if "\ud800" <= sign <= "\udfff" else sign for sign in text)
    return text


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
