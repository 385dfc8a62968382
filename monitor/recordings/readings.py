"""Readings in CSV: every stored reading as it was sent, whatever its flag."""

from collections.abc import Iterable, Iterator, Sequence
from itertools import repeat
from pathlib import Path
from sys import intern
from typing import NamedTuple, TextIO

from monitor.model.flags import Flag
from monitor.model.readings import Reading
from monitor.model.times import show_time
from monitor.model.units import UNITS_OF, Quantity
from monitor.recordings.problems import Problems, quoted
from monitor.recordings.table import COLUMNS, QUOTE, Kind, Table, row_line
from monitor.recordings.values import Memo, Times, parse_micro, show_micro

_FLAGS = {str(int(flag)): flag for flag in Flag}


class ReadingRow(NamedTuple):
    """One row.

    Attributes:
        time: The reading's own time, UTC ms.
        probe: Series id.
        quantity: What the probe measures.
        micro: Value as sent, millionths of `unit`.
        unit: UCUM unit code.
        received: When it was taken in, UTC ms, or None if the file does not say.
        quality: Its flag when the file was written, or None.
    """

    time: int
    probe: str
    quantity: Quantity
    micro: int
    unit: str
    received: int | None = None
    quality: Flag | None = None

    def reading(self) -> Reading:
        """Return what conditioning takes."""
        return Reading(self.time, self.probe, self.micro, self.unit)


def stream_readings(path: Path, problems: Problems) -> Iterator[ReadingRow]:
    """Yield the rows of a file in its own order; a bad row is a problem and left out.

    Raises:
        MisuseError: There is no such file, or something is wrong and the problems are strict.
        UnavailableError: The file cannot be read.
    """
    table, parsers = Table(path, Kind.READINGS, problems), _Parsers()
    if not table.begin():
        return
    while lines := table.block():
        rows = _many(lines, table, parsers)
        if rows is not None:
            table.take()
            yield from rows
            continue
        # something in this block is not quite right: row by row, to say what and where
        for number, fields in table.rows():
            try:
                row = _one(fields, parsers)
            except ValueError as fault:
                problems.add(table.file, number, str(fault))
                continue
            yield row


class _Parsers:
    """What turns each column's texts into values, remembering them."""

    __slots__ = ("instant", "measured", "micro", "times")

    def __init__(self) -> None:
        self.times = Times()
        self.instant = Memo(self.times)
        self.micro = Memo(lambda text: parse_micro(text.strip()))
        self.measured = _Measured()


class _Measured(dict[tuple[str, str], tuple[Quantity, str]]):
    def __missing__(self, texts: tuple[str, str]) -> tuple[Quantity, str]:
        found = self[texts] = _measured(*texts)
        return found


def _many(lines: list[str | None], table: Table, parsers: _Parsers) -> list[ReadingRow] | None:
    """Return the rows of a whole block, column by column; None if any of it is unusual."""
    try:
        split = [line.removesuffix("\r").split(table.comma) for line in lines]  # type: ignore[union-attr]
        columns = list(zip(*split, strict=True))
        if len(columns) != table.width or any(QUOTE in line for line in lines):  # type: ignore[operator]
            return None
        time, probe, quantity, value, unit, received, quality = (columns[i] if i >= 0 else None for i in table.wanted)
        if not (time and probe and quantity and value and unit):
            return None
        measured = list(map(parsers.measured.__getitem__, zip(quantity, unit, strict=True)))
        if not all(map(_is_plain_id, set(probe))):
            return None
        cells = zip(
            map(parsers.instant.__getitem__, time),
            map(intern, probe),
            [what[0] for what in measured],
            map(parsers.micro.__getitem__, value),
            [what[1] for what in measured],
            repeat(None) if received is None else [parsers.instant[text] if text else None for text in received],
            repeat(None) if quality is None else [_FLAGS[text] if text else None for text in quality],
            strict=False,
        )
        # a named tuple's own constructor is a Python call; a year of readings is ten million of them
        return list(map(tuple.__new__, repeat(ReadingRow), cells))
    except (ValueError, LookupError, AttributeError, TypeError):
        return None


def _one(fields: Sequence[str], parsers: _Parsers) -> ReadingRow:
    """Return one row; raises ValueError with what is wrong and what would be right."""
    time, probe, quantity, value, unit, received, quality = fields
    at = parsers.times(time)
    what, code = parsers.measured[quantity, unit]
    if not probe.strip():
        raise ValueError("the probe is empty; it is the probe's id")
    received_at = parsers.times(received) if received.strip() else None
    return ReadingRow(at, intern(probe.strip()), what, parsers.micro[value], code, received_at, _flag(quality))


def _is_plain_id(text: str) -> bool:
    return bool(text) and text == text.strip()


def read_readings(path: Path, *, strict: bool = False) -> tuple[list[ReadingRow], Problems]:
    """Return all rows of a file and its problems.

    Raises:
        UnavailableError: The file cannot be read.
        MisuseError: Something is wrong and `strict` is asked for.
    """
    problems = Problems(strict=strict)
    return list(stream_readings(path, problems)), problems


def write_readings(rows: Iterable[ReadingRow], out: TextIO) -> int:
    """Write rows as CSV with all columns, and return how many."""
    out.write(row_line(COLUMNS[Kind.READINGS]))
    count = 0
    for row in rows:
        received = "" if row.received is None else show_time(row.received)
        quality = "" if row.quality is None else str(int(row.quality))
        fields = (show_time(row.time), row.probe, row.quantity.value, show_micro(row.micro), row.unit)
        out.write(row_line((*fields, received, quality)))
        count += 1
    return count


def _measured(quantity: str, unit: str) -> tuple[Quantity, str]:
    try:
        what = Quantity(quantity.strip().lower())
    except ValueError:
        known = ", ".join(Quantity)
        raise ValueError(f"{quoted(quantity)} is not a quantity; these are: {known}") from None
    code = unit.strip()
    if code not in UNITS_OF[what]:
        raise ValueError(f"{quoted(unit)} is not a unit of {what}; these are: {', '.join(UNITS_OF[what])}")
    return what, code


def _flag(text: str) -> Flag | None:
    text = text.strip()
    if text and text not in _FLAGS:
        raise ValueError(f"{quoted(text)} is not a quality; it is one of {', '.join(_FLAGS)}, or empty")
    return _FLAGS.get(text)
