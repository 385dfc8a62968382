"""Rows of recordings (CSV): readings, work and labels. Nothing is written here; a caller hands the rows to `csv.writer`."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from monitor.model.times import show_time
from monitor.model.work import Work
from monitor.simulate import Sample

READING_COLUMNS = ("time", "probe", "quantity", "value", "unit")
WORK_COLUMNS = ("time", "entered", "place", "to", "batch", "probe", "kind", "amount", "measure", "by", "note")
LABEL_COLUMNS = ("place", "start", "end", "kind", "note")


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """The truth about a span of a place: trouble or fine (`kind`), and the cause (`note`). UTC ms."""

    place: str
    start: int
    end: int
    kind: str
    note: str = ""


def number(value: float) -> str:
    """Return a value as text, four decimals at most and no trailing zeros."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def reading_rows(samples: Iterable[Sample]) -> Iterator[tuple[str, ...]]:
    """Yield the header and one row for each sample."""
    yield READING_COLUMNS
    for sample in samples:
        yield show_time(sample.time), sample.probe, sample.quantity, number(sample.value), sample.unit


def work_rows(works: Iterable[Work]) -> Iterator[tuple[str, ...]]:
    """Yield the header and one row for each piece of work."""
    yield WORK_COLUMNS
    for work in works:
        entered = show_time(work.entered) if work.entered is not None else ""
        words = (work.place, work.to, work.batch, work.probe, work.kind.value, work.amount, work.measure)
        yield (show_time(work.time), entered, *words, work.by, work.note)


def label_rows(labels: Iterable[Label]) -> Iterator[tuple[str, ...]]:
    """Yield the header and one row for each label."""
    yield LABEL_COLUMNS
    for label in labels:
        yield label.place, show_time(label.start), show_time(label.end), label.kind, label.note
