"""Readings in CSV: every stored reading as it was sent, whatever its flag.

There is one way in: a block of lines is read column by column (`cells`), and a block with anything unusual row by row, which
finds the fault and its line. The result are columns; callers who want objects make rows from them.
"""

from collections.abc import Callable, Container, Iterable, Iterator, Sequence
from pathlib import Path
from typing import NamedTuple, TextIO, TypeVar

import numpy as np
from numpy.typing import NDArray

from monitor.model.flags import Flag
from monitor.model.readings import is_hand
from monitor.model.times import parse_time, show_time
from monitor.model.units import UNITS_OF, Quantity, unit_code
from monitor.recordings.cells import Cells, grid, instants, micros
from monitor.recordings.file_problems import Problems, quoted
from monitor.recordings.formulas import as_written, defused
from monitor.recordings.kinds import COLUMNS, Kind
from monitor.recordings.parquet_files import ParquetTable, batch_columns, is_parquet
from monitor.recordings.reading_columns import NOT_SAID, QUANTITIES, ReadingColumns, ReadingRow, Told, columns_of
from monitor.recordings.sheet_forms import RECORDING, SheetForms, SheetQuestionError, SheetTimes, sheet_micro
from monitor.recordings.table import Table, row_line, sheet_times, table_of
from monitor.recordings.text_codes import Texts
from monitor.recordings.values import Memo, show_micro

T = TypeVar("T")


class RowOfFile(NamedTuple):
    """A row of a file: its line, its series, its time (UTC ms), its value and its unit as written."""

    line: int
    probe: str
    time: int
    value: str
    unit: str


_OF_PROBES = 7
"""Columns that hold everything a probe sent; the others are for hand readings."""
_FLAGS = {str(int(flag)): flag for flag in Flag}
_LARGEST_PIECE = 1 << 23
_UNITS = tuple(dict.fromkeys(unit for quantity in QUANTITIES for unit in UNITS_OF[quantity]))
_FIT = np.array([[unit in UNITS_OF[quantity] for unit in _UNITS] for quantity in QUANTITIES])


def stream_columns(path: Path, problems: Problems, forms: SheetForms = RECORDING) -> Iterator[ReadingColumns]:
    """Read a file as columns, some thousands of rows at a time.

    Args:
        path: The file: Parquet, or CSV, plain or gzip.
        problems: Receives bad rows, which are left out.
        forms: A person's statements about how the file is written.

    Yields:
        The rows of one block after another, in the order of the file.

    Raises:
        MisuseError: There is no such file, a row is bad and the problems are strict, or the file could be read in two
            ways (`sheet_forms`).
        UnavailableError: The file cannot be read.
    """
    if is_parquet(path):
        yield from _of_parquet(path, problems)
        return
    table = Table(path, Kind.READINGS, problems, forms)
    if not table.begin():
        return
    reader = _Reader(table, sheet_times(path, Kind.READINGS, forms))
    table.place = reader.place
    _keep_memory()
    while (raw := table.block()) != b"":
        columns = None if raw is None else reader.many(raw, table)
        if columns is not None:
            table.take()
        else:
            # Something in this block is unusual; only reading it row by row finds the fault and its line.
            columns = columns_of(reader.one_by_one(table, problems))
        yield columns


def _of_parquet(path: Path, problems: Problems) -> Iterator[ReadingColumns]:
    table = ParquetTable(path, Kind.READINGS, problems)
    reader = _Reader(table, SheetTimes(RECORDING))
    for batch in table.batches():
        columns = batch_columns(batch)
        yield columns if columns is not None else columns_of(reader.one_by_one(table, problems))


def _keep_memory() -> None:
    """Let the arrays of each block reuse the memory of the block before.

    The C library of most Linux systems returns larger pieces of memory to the kernel at once and asks for them anew, page by
    page, which takes as long as the reading itself; it stops doing so for pieces up to the size of one that was returned
    (glibc, mallopt(3), M_MMAP_THRESHOLD). On other systems this function does nothing.
    """
    bytearray(_LARGEST_PIECE)


def stream_readings(path: Path, problems: Problems, forms: SheetForms = RECORDING) -> Iterator[ReadingRow]:
    """Read a file as rows.

    Args:
        path: The file: Parquet, or CSV, plain or gzip.
        problems: Receives bad rows, which are left out.
        forms: A person's statements about how the file is written.

    Yields:
        The rows in the order of the file.

    Raises:
        MisuseError: There is no such file, or a row is bad and the problems are strict.
        UnavailableError: The file cannot be read.
    """
    for columns in stream_columns(path, problems, forms):
        yield from columns.rows()


def read_readings(
    path: Path, *, strict: bool = False, forms: SheetForms = RECORDING
) -> tuple[list[ReadingRow], Problems]:
    """Read all rows of a file.

    Args:
        path: The file: Parquet, or CSV, plain or gzip.
        strict: Whether the first bad row is raised.
        forms: A person's statements about how the file is written.

    Returns:
        The rows in the order of the file, and its problems.

    Raises:
        UnavailableError: The file cannot be read.
        MisuseError: A row is bad and `strict` is asked for.
    """
    problems = Problems(strict=strict)
    return list(stream_readings(path, problems, forms)), problems


def lines_of(path: Path, wanted: Container[tuple[str, int]], forms: SheetForms = RECORDING) -> Iterator[RowOfFile]:
    """Find the rows of certain readings in a file, to show them to people; reads the file row by row.

    Args:
        path: The file.
        wanted: (probe or series, time in UTC ms) of the readings.
        forms: A person's statements about how the file is written.

    Yields:
        The rows in the order of the file; bad rows too, as far as they can be read.

    Raises:
        MisuseError, UnavailableError: As `stream_columns`.
    """
    table = table_of(path, Kind.READINGS, Problems(), forms)
    reader = _Reader(table, sheet_times(path, Kind.READINGS, forms))
    for number, fields in table.all_rows():
        time, probe, of_heat = reader.place(fields)
        key = _series(probe, fields[7].strip()), time if time is not None else -1
        if of_heat and key in wanted:
            yield RowOfFile(number, key[0], key[1], fields[3].strip(), fields[4].strip())


class _Reader:
    """Turns a file's texts into values and remembers them, because they repeat."""

    def __init__(self, table: Table | ParquetTable, times: SheetTimes) -> None:
        self._times = times
        self._instant = Memo(self._times)
        self._micro = Memo(lambda text: sheet_micro(text, table.comma))
        self._days: dict[int, int] = {}
        self._probes = dict[str, int]()
        self._names: tuple[str, ...] = ()
        self._probe = Texts(self._probe_of)
        self._quantity = Texts(lambda text: QUANTITIES.index(_quantity(text)))
        self._unit = Texts(lambda text: _UNITS.index(unit_code(text)))
        self._quality = Texts(lambda text: int(_flag(text) or 0))

    def many(self, raw: bytes, table: Table) -> ReadingColumns | None:
        """Return the rows of a whole block; None if any of it is unusual."""
        cells = grid(raw, table.comma, table.width)
        if cells is None:
            return None
        time, probe, quantity, value, unit, received, quality, *by_hand = (
            cells[i] if i >= 0 else None for i in table.wanted
        )
        if any(column is not None and bool(column.length.any()) for column in by_hand):
            return None
        if time is None or probe is None or quantity is None or value is None or unit is None:
            return None  # only the row-by-row reader fills columns that the file lacks
        rows = len(time.begin)
        try:
            what, code = self._quantity.numbers(quantity), self._unit.numbers(unit)
            if not _FIT[what, code].all():
                return None
            return ReadingColumns(
                instants(time, self._instant.__getitem__, self._day),
                micros(value, self._micro.__getitem__),
                np.full(rows, NOT_SAID) if received is None else self._received(received),
                self._probe.numbers(probe).astype(np.int32),
                code.astype(np.int8),
                what.astype(np.int8),
                np.zeros(rows, np.int8) if quality is None else self._quality.numbers(quality).astype(np.int8),
                self._all_names(),
                _UNITS,
            )
        except ValueError:
            return None

    def one_by_one(self, table: Table | ParquetTable, problems: Problems) -> Iterator[ReadingRow]:
        """Yield the good rows of a block; each bad row is a problem."""
        for number, fields in table.rows():
            try:
                row = self._one(fields)
            except SheetQuestionError as question:
                raise question.misuse(table.file, number) from None
            except ValueError as fault:
                problems.add(table.file, number, str(fault), self.place(fields))
                continue
            yield row

    def place(self, fields: Sequence[str]) -> tuple[int | None, str, bool]:
        """Return the readable parts of a bad row: its time, its probe, and whether it may be a temperature."""
        time, probe, quantity = fields[:3]
        faults: list[str] = []
        try:
            at = _tried(faults, self._times, time)
        except SheetQuestionError:
            at = None
        what = _tried(faults, _quantity, quantity)
        return at, probe.strip(), what is None or what is Quantity.TEMPERATURE

    def _one(self, fields: Sequence[str]) -> ReadingRow:
        """Return one row; raises ValueError with the fault and what would be right."""
        time, probe, quantity, value, unit, received, quality, spot, depth, by, thermometer = fields
        faults: list[str] = []
        at = _tried(faults, self._times, time)
        measured = _tried(faults, _measured, quantity, unit)
        if not probe.strip():
            faults.append("the probe is empty; it is the probe's id")
        micro = _tried(faults, self._micro.__getitem__, value)
        received_at = _tried(faults, self._times, received) if received.strip() else None
        flag = _tried(faults, _flag, quality)
        if faults or at is None or measured is None or micro is None:
            raise ValueError("; ".join(faults))
        said = Told(by.strip(), thermometer.strip(), depth.strip())
        series = _series(probe.strip(), spot.strip())
        return ReadingRow(at, series, measured[0], micro, measured[1], received_at, flag, said if any(said) else None)

    def _received(self, cells: Cells) -> NDArray[np.int64]:
        return instants(cells, lambda text: self._instant[text] if text.strip() else NOT_SAID, self._day, NOT_SAID)

    def _day(self, number: int) -> int:
        """Return the first instant of the day yyyymmdd, UTC ms."""
        known = self._days.get(number)
        if known is None:
            year, rest = divmod(number, 10_000)
            text = f"{year:04}-{rest // 100:02}-{rest % 100:02}T00:00:00Z"
            known = self._days[number] = parse_time(text)
        return known

    def _probe_of(self, text: str) -> int:
        if not text.strip():
            raise ValueError("the probe is empty")
        return self._probes.setdefault(as_written(text).strip(), len(self._probes))

    def _all_names(self) -> tuple[str, ...]:
        if len(self._names) < len(self._probes):
            self._names = tuple(self._probes)
        return self._names


def _series(probe: str, spot: str) -> str:
    """Return the series of a row: a hand reading's spot makes a series of its own; for a probe the spot means nothing."""
    return f"{probe}:{spot}" if spot and is_hand(probe) and not probe.endswith(f":{spot}") else probe


def write_readings(rows: Iterable[ReadingRow], out: TextIO, *, by_hand: bool = False) -> int:
    """Write rows as CSV.

    Args:
        rows: In the order to write.
        out: Open text file.
        by_hand: Whether to write the columns of hand readings too.

    Returns:
        Number of rows written.
    """
    out.write(row_line(COLUMNS[Kind.READINGS][: None if by_hand else _OF_PROBES]))
    count = 0
    for row in rows:
        received = "" if row.received is None else show_time(row.received)
        quality = "" if row.quality is None else str(int(row.quality))
        fields = (show_time(row.time), defused(row.probe), row.quantity.value, show_micro(row.micro), defused(row.unit))
        told = row.told or Told()
        more = (row.probe.rpartition(":")[2] if row.probe.count(":") > 1 and is_hand(row.probe) else "", told.depth)
        hand = (*more, told.by, told.thermometer) if by_hand else ()
        out.write(row_line((*fields, received, quality, *map(defused, hand))))
        count += 1
    return count


def _quantity(text: str) -> Quantity:
    try:
        return Quantity(text.strip().lower())
    except ValueError:
        known = ", ".join(Quantity)
        raise ValueError(f"{quoted(text)} is not a quantity; these are: {known}") from None


def _tried(faults: list[str], parse: Callable[..., T], *texts: str) -> T | None:
    """Return the parser's result for a cell; its objection joins the row's other faults."""
    try:
        return parse(*texts)
    except SheetQuestionError:
        raise
    except ValueError as fault:
        faults.append(str(fault))
        return None


_AS_PEOPLE = {Quantity.TEMPERATURE: ", or as people write them (°C, °F)"}


def _measured(quantity: str, unit: str) -> tuple[Quantity, str]:
    what = _quantity(quantity)
    code = unit_code(unit)
    if code not in UNITS_OF[what]:
        known = ", ".join(UNITS_OF[what]) + _AS_PEOPLE.get(what, "")
        raise ValueError(f"{quoted(unit)} is not a unit of {what}; these are: {known}")
    return what, code


def _flag(text: str) -> Flag | None:
    text = text.strip()
    if text and text not in _FLAGS:
        raise ValueError(f"{quoted(text)} is not a quality; it is one of {', '.join(_FLAGS)}, or empty")
    return _FLAGS.get(text)
