"""Parquet files as recordings: the columns of CSV with types, for questions over many yards (the extra `fleet`).

Rules:
1. The columns are those of CSV, with the same names, in the same order and units. `time`, `received` and `entered` are
   timestamps in UTC, ms; `value` is an exact decimal of millionths, `quality` a small integer, all else text. What CSV leaves
   empty is null.
2. The file's metadata `heaptender` is a JSON object: `form` (the version of this form), `kind`, `yard` (its name), `time_zone`.
3. A file of another program is read if it has the columns; its instants need a zone, or nobody knows which they are.
4. A row that cannot be right is refused by the same parser as a line of CSV. Its line is its row, counted from 1.
"""

import json
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from importlib.util import find_spec
from itertools import islice
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple

import numpy as np

from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.readings import is_hand
from monitor.model.times import show_time
from monitor.model.units import UNITS_OF
from monitor.model.work import COLUMNS as WORK_FIELDS
from monitor.model.work import Work
from monitor.recordings.file_problems import Problems, quoted
from monitor.recordings.kinds import COLUMNS, INSTANTS, NEEDED, Kind
from monitor.recordings.reading_columns import NOT_SAID, QUANTITIES, ReadingColumns, ReadingRow, Told, columns_of
from monitor.recordings.values import storable

FORM = 1
"""Version of this form; a later one is not read."""
PARQUET = ".parquet"
NO_PARQUET = "Parquet files need the extra `fleet`: pip install 'heaptender[fleet]'."

_MAGIC = b"PAR1"
_META = b"heaptender"
_ROWS = 1 << 16
"""Rows held at once."""
_TEXTS_OF_PROBE = ("probe", "quantity", "unit")
_STAMPS = ("time", "received", "entered")
"""Instants that are written as timestamps; `start` and `end` of work may say something else."""
_BY_HAND = ("spot", "depth", "by", "with")
_UNITS = tuple(dict.fromkeys(unit for quantity in QUANTITIES for unit in UNITS_OF[quantity]))


class About(NamedTuple):
    """The yard that a file is of: its name, and the time zone by which it counts days."""

    yard: str
    time_zone: str


def is_parquet(path: Path) -> bool:
    """Return whether a file is Parquet, by its first bytes; a pipe never is, since it could not be read twice."""
    try:
        if not path.is_file():
            return False
        with path.open("rb") as file:
            return file.read(len(_MAGIC)) == _MAGIC
    except OSError:
        return False  # whoever reads it says why it cannot be read


def lacks_parquet() -> str:
    """Return why no Parquet file can be read or written here, a sentence; "" if the library is installed."""
    return "" if find_spec("pyarrow") is not None else NO_PARQUET


def write_readings_parquet(rows: Iterable[ReadingRow], out: BinaryIO, about: About) -> int:
    """Write readings as Parquet, and return their number.

    Args:
        rows: In the order to write.
        out: Open binary file.
        about: The yard.

    Raises:
        MisuseError: The library is missing.
    """
    rows, count = iter(rows), 0
    with _writer(Kind.READINGS, out, about) as write:
        while len(part := columns_of(islice(rows, _ROWS))):
            write(_reading_arrays(part))
            count += len(part)
    return count


def write_work_parquet(entries: Iterable[Work], out: BinaryIO, about: About) -> int:
    """Write work as Parquet with all columns, and return the number of entries.

    Args:
        entries: In the order to write.
        out: Open binary file.
        about: The yard.

    Raises:
        MisuseError: The library is missing.
    """
    entries, count = iter(entries), 0
    with _writer(Kind.WORK, out, about) as write:
        import pyarrow as pa  # noqa: PLC0415 (an extra; nothing else needs it)

        while part := list(islice(entries, _ROWS)):
            times = [
                pa.array([one.time for one in part], pa.int64()),
                pa.array([one.entered for one in part], pa.int64()),
            ]
            texts = ([str(getattr(one, name)) or None for one in part] for name in WORK_FIELDS[2:])
            write([*times, *(pa.array([text and storable(text) for text in column], pa.string()) for column in texts)])
            count += len(part)
    return count


class ParquetTable:
    """One Parquet file of a known kind as rows of texts, like `Table`; iterate once."""

    comma = ","
    filled: frozenset[str] = frozenset()

    def __init__(self, path: Path, kind: Kind, problems: Problems) -> None:
        """Store the arguments; nothing is opened yet."""
        self.file = str(path)
        self._path, self._kind, self._problems = path, kind, problems
        self._first = 1
        self._batch: Any = None

    def batches(self) -> Iterator[Any]:
        """Yield the file's record batches; `rows` gives those of the latest.

        Raises:
            MisuseError: The library is missing, or a column has a type that nobody can read here.
            UnavailableError: The file cannot be read.
        """
        with _opened(self._path) as file:
            names = [name for name in COLUMNS[self._kind] if name in file.schema_arrow.names]
            _refuse_types(self._path, file.schema_arrow, names)
            try:
                for batch in file.iter_batches(_ROWS, columns=names):
                    self._batch = batch
                    yield batch
                    self._first += len(batch)
            except _arrow_faults() as fault:
                self._damaged(fault)

    def _damaged(self, fault: Exception) -> None:
        said = f"the Parquet file is damaged here ({_first_line(fault)}); copy or export it again"
        self._problems.add(self.file, self._first, said)

    def rows(self) -> Iterator[tuple[int, Sequence[str]]]:
        """Yield (row number, texts in the order of `COLUMNS`, missing ones empty) of every row of the latest batch."""
        if self._batch is None:
            return
        try:
            there = {name: _texts(self._batch.column(name), name) for name in self._batch.schema.names}
        except _arrow_faults() as fault:  # a text that is no UTF-8, a column that stands there twice
            self._damaged(fault)
            return
        empty = [""] * len(self._batch)
        columns = [there.get(name, empty) for name in COLUMNS[self._kind]]
        yield from enumerate(zip(*columns, strict=True), self._first)

    def all_rows(self) -> Iterator[tuple[int, Sequence[str]]]:
        """Yield the rows of the whole file; see `rows`."""
        for _ in self.batches():
            yield from self.rows()


def parquet_kind(path: Path, problems: Problems) -> Kind | None:
    """Return the kind of recording in a Parquet file by its columns, or None after a problem.

    Raises:
        MisuseError: The library is missing, the form is a later one, or the problems are strict.
        UnavailableError: The file cannot be read.
    """
    with _opened(path) as file:
        names = set(file.schema_arrow.names)
    for kind, needed in NEEDED.items():
        if names.issuperset(needed):
            return kind
    wanted = "; ".join(f"{kind}: {','.join(needed)}" for kind, needed in NEEDED.items())
    problems.add(str(path), 1, f"the Parquet file has no columns of a recording; it needs ({wanted})")
    return None


def batch_columns(batch: Any) -> ReadingColumns | None:
    """Return the readings of a batch as columns; None if any of them is unusual, and must be read row by row."""
    import pyarrow as pa  # noqa: PLC0415 (an extra; nothing else needs it)

    named = {name: batch.column(name) for name in batch.schema.names}
    if any(named[name].null_count for name in NEEDED[Kind.READINGS]):
        return None
    if any(name in named and named[name].null_count < len(batch) for name in _BY_HAND):
        return None
    try:
        micro = _micros(named["value"].cast(pa.decimal128(18, 6)))
        time = named["time"].cast(pa.timestamp("ms", tz="UTC")).cast(pa.int64()).to_numpy()
        probes, quantities, units = (named[name].dictionary_encode() for name in _TEXTS_OF_PROBE)
        what = [QUANTITIES.index(text) for text in quantities.dictionary.to_pylist()]
        code = [_UNITS.index(text) for text in units.dictionary.to_pylist()]
        names = tuple(probes.dictionary.to_pylist())
        if not all(isinstance(name, str) and name and name == name.strip() for name in names):
            return None
        quantity = np.array(what, np.int8)[quantities.indices.to_numpy()]
        unit = np.array(code, np.int8)[units.indices.to_numpy()]
        received = _or(named.get("received"), NOT_SAID, len(batch), as_instants=True)
        quality = _or(named.get("quality"), 0, len(batch))
    except _arrow_faults():
        return None
    pairs = {(int(one) // 256, int(one) % 256) for one in np.unique(quantity.astype(np.int32) * 256 + unit)}
    if any(_UNITS[u] not in UNITS_OF[QUANTITIES[q]] for q, u in pairs) or not set(np.unique(quality)) <= _QUALITIES:
        return None
    probe = probes.indices.to_numpy().astype(np.int32)
    return ReadingColumns(time, micro, received, probe, unit, quantity, quality.astype(np.int8), names, _UNITS)


_QUALITIES = frozenset((0, 1, 2, 3, 4, 9))


def _or(column: Any, missing: int, rows: int, *, as_instants: bool = False) -> Any:
    """Return a column of whole numbers or instants (UTC ms) as an array, with a number for what is missing."""
    import pyarrow as pa  # noqa: PLC0415 (an extra; nothing else needs it)

    if column is None:
        return np.full(rows, missing, np.int64)
    if as_instants:
        column = column.cast(pa.timestamp("ms", tz="UTC"))
    return column.cast(pa.int64()).fill_null(missing).to_numpy()


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """Open a Parquet file and refuse one of a later form."""
    if said := lacks_parquet():
        raise MisuseError(f"{path} is a Parquet file. {said}")
    from pyarrow.parquet import ParquetFile  # noqa: PLC0415 (an extra; nothing else needs it)

    try:
        file = ParquetFile(path)
    except _arrow_faults() as fault:
        raise MisuseError(
            f"{path} is a damaged Parquet file ({_first_line(fault)}); copy or export it again."
        ) from fault
    with file:
        _refuse_later(path, file.schema_arrow.metadata or {})
        yield file


def _refuse_later(path: Path, metadata: dict[bytes, bytes]) -> None:
    try:
        form = json.loads(metadata.get(_META, b"{}")).get("form", FORM)
    except (ValueError, AttributeError, RecursionError):
        return  # another program's own remark
    if form != FORM:
        raise MisuseError(f"{path} is of form {form}, and this Heaptender reads form {FORM}; a newer one reads it.")


def _refuse_types(path: Path, schema: Any, names: Sequence[str]) -> None:
    """Refuse a file whose instants have no zone, or that holds what is neither number, text nor instant."""
    from pyarrow import types  # noqa: PLC0415 (an extra; nothing else needs it)

    for name in names:
        kind = schema.field(name).type
        if name in INSTANTS and types.is_timestamp(kind) and kind.tz is None:
            raise MisuseError(f"{path}: the column {name} has no time zone; store it as a timestamp in UTC.")
        if types.is_dictionary(kind):
            kind = kind.value_type
        plain = types.is_string(kind) or types.is_large_string(kind) or types.is_integer(kind) or types.is_null(kind)
        number = types.is_floating(kind) or types.is_decimal(kind)
        if not (plain or number or (name in INSTANTS and types.is_timestamp(kind))):
            raise MisuseError(f"{path}: the column {name} holds {kind}, and a recording text, numbers or instants.")


def _texts(column: Any, name: str) -> list[str]:
    """Return a column as the texts that CSV would hold."""
    from pyarrow import types  # noqa: PLC0415 (an extra; nothing else needs it)

    if types.is_timestamp(column.type):
        return ["" if one is None else _shown(one) for one in _instants(column).to_pylist()]
    if name in INSTANTS or not types.is_decimal(column.type):
        return ["" if one is None else str(one) for one in column.to_pylist()]
    return ["" if one is None else format(one, "f") for one in column.to_pylist()]


def _shown(instant: int) -> str:
    """Return an instant (UTC ms) as text; one outside the calendar as a text that is no time, so that its row is refused."""
    try:
        return show_time(instant)
    except ValueError:
        return f"{instant} ms"


def _arrow_faults() -> tuple[type[Exception], ...]:
    """Return the errors that Arrow raises: most are Python's own kinds, and each is its own kind too."""
    from pyarrow import ArrowException  # noqa: PLC0415 (an extra; nothing else needs it)

    return (ArrowException, ValueError, OSError)


def _instants(column: Any) -> Any:
    import pyarrow as pa  # noqa: PLC0415 (an extra; nothing else needs it)

    return column.cast(pa.timestamp("ms", tz="UTC"), safe=False).cast(pa.int64())


def _micros(column: Any) -> Any:
    """Return decimals of millionths as integers; Arrow holds each as 16 bytes, the lower eight first."""
    pairs = np.frombuffer(column.buffers()[1], dtype="<i8").reshape(-1, 2)
    return pairs[column.offset : column.offset + len(column), 0]


def _decimals(micro: Any) -> Any:
    """Return integer millionths as exact decimals."""
    import pyarrow as pa  # noqa: PLC0415 (an extra; nothing else needs it)

    pairs = np.stack((micro, micro >> 63), axis=1).astype("<i8")
    return pa.Array.from_buffers(pa.decimal128(18, 6), len(micro), [None, pa.py_buffer(np.ascontiguousarray(pairs))])


def _reading_arrays(part: ReadingColumns) -> list[Any]:
    import pyarrow as pa  # noqa: PLC0415 (an extra; nothing else needs it)

    def named(codes: Any, texts: Sequence[str]) -> Any:
        return pa.DictionaryArray.from_arrays(pa.array(codes, pa.int32()), pa.array(texts, pa.string())).cast(
            pa.string()
        )

    told = [part.told.get(row, Told()) for row in range(len(part))] if part.told else []
    spots = [name.rpartition(":")[2] if name.count(":") > 1 and is_hand(name) else None for name in part.names]
    said = [[one[field] or None for one in told] or [None] * len(part) for field in (2, 0, 1)]
    return [
        pa.array(part.time),
        named(part.probe, [storable(name) for name in part.names]),
        named(part.quantity, [str(one) for one in QUANTITIES]),
        _decimals(part.micro),
        named(part.unit, part.units),
        pa.array(part.received, mask=part.received == NOT_SAID),
        pa.array(part.quality, pa.int8(), mask=part.quality == 0),
        pa.array([spots[code] for code in part.probe.tolist()], pa.string())
        if any(spots)
        else pa.nulls(len(part), pa.string()),
        *(pa.array(column, pa.string()) for column in said),
    ]


@contextmanager
def _writer(kind: Kind, out: BinaryIO, about: About) -> Iterator[Any]:
    """Yield the function that writes one batch of columns."""
    if said := lacks_parquet():
        raise MisuseError(said)
    import pyarrow as pa  # noqa: PLC0415 (an extra; nothing else needs it)
    from pyarrow.parquet import ParquetWriter  # noqa: PLC0415

    about_it = {"form": FORM, "kind": kind.value, "yard": about.yard, "time_zone": about.time_zone}
    types = {name: pa.timestamp("ms", tz="UTC") for name in _STAMPS}
    if kind is Kind.READINGS:
        types |= {"value": pa.decimal128(18, 6), "quality": pa.int8()}
    fields = [(name, types.get(name, pa.string())) for name in COLUMNS[kind]]
    schema = pa.schema(fields, metadata={_META: json.dumps(about_it, ensure_ascii=False).encode()})
    with ParquetWriter(out, schema, compression="zstd") as writer:

        def write(columns: Sequence[Any]) -> None:
            cast = [one.cast(field.type) for one, field in zip(columns, schema, strict=True)]
            try:
                writer.write_batch(pa.record_batch(cast, schema=schema))
            except OSError as fault:
                raise UnavailableError(f"The Parquet file cannot be written ({_first_line(fault)}).") from fault

        yield write


def _first_line(fault: Exception) -> str:
    return quoted((str(fault).splitlines() or [type(fault).__name__])[0])
