"""Rows of yards as tables: Parquet, which is read again, and CSV for a spreadsheet. Both have the same columns."""

import csv
import io
import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import Any, BinaryIO

from monitor.model.errors import MisuseError, UnavailableError
from monitor.recordings import defused, lacks_parquet
from monitor.reports import FLAT, YardRow, flat, row_of

FORM = 1
"""Version of the table's form; a later one is not read."""
_META = b"heaptender"
_WHAT = "yards"
_TEXT, _DAYS, _YES = ("yard", "time_zone"), ("from", "to"), ("goes_on", "us")
_MOST = 100_000
"""Most rows read from a file: no city has more yards."""


def write_rows(rows: Iterable[YardRow], out: BinaryIO) -> None:
    """Write rows as Parquet.

    Args:
        rows: The rows.
        out: Open binary file.

    Raises:
        MisuseError: The library is missing.
    """
    if said := lacks_parquet():
        raise MisuseError(said)
    import pyarrow as pa  # noqa: PLC0415 (an extra; nothing else needs it)
    from pyarrow.parquet import write_table  # noqa: PLC0415

    kinds: dict[str, Any] = {name: pa.float64() if name.endswith(("_kg", "_litres")) else pa.int64() for name in FLAT}
    kinds |= dict.fromkeys(_TEXT, pa.string()) | dict.fromkeys(_DAYS, pa.date32()) | dict.fromkeys(_YES, pa.bool_())
    schema = pa.schema(
        list(kinds.items()),
        metadata={_META: json.dumps({"form": FORM, "kind": _WHAT}).encode()},
    )
    write_table(pa.Table.from_pylist([flat(row) for row in rows], schema=schema), out, compression="zstd")


def read_rows(path: Path) -> list[YardRow]:
    """Read the rows of a Parquet file.

    Args:
        path: The file.

    Raises:
        MisuseError: The library is missing, or the file is no table of yards.
        UnavailableError: The file cannot be read.
    """
    if said := lacks_parquet():
        raise MisuseError(f"{path} is a Parquet file. {said}")
    with _opened(path) as file:
        _refuse_others(path, file)
        cells = file.read().to_pylist()
    rows = []
    for number, one in enumerate(cells, 1):
        try:
            rows.append(row_of(one))
        except ValueError as fault:
            raise MisuseError(f"{path} line {number}: {fault}, which no report wrote.") from fault
    return rows


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    from pyarrow.parquet import ParquetFile  # noqa: PLC0415 (an extra; nothing else needs it)

    try:
        with ParquetFile(path) as file:
            yield file
    except ValueError as fault:  # Arrow's own errors are these and the next
        raise MisuseError(f"{path} is a damaged Parquet file; write it again with `report --parquet`.") from fault
    except OSError as fault:
        raise UnavailableError(f"{path} cannot be read ({fault.strerror or 'it is damaged'}).") from fault


def _refuse_others(path: Path, file: Any) -> None:
    try:
        said = json.loads((file.schema_arrow.metadata or {}).get(_META, b"{}"))
    except ValueError:
        said = {}
    kind, form = (said.get("kind"), said.get("form")) if isinstance(said, dict) else (None, None)
    if kind != _WHAT:
        raise MisuseError(f"{path} is no table of yards; `report --parquet FILE` writes one.")
    if form != FORM:
        raise MisuseError(f"{path} is of form {form}, and this Heaptender reads form {FORM}; a newer one reads it.")
    if file.metadata.num_rows > _MOST:
        raise MisuseError(f"{path} has {file.metadata.num_rows} rows; a table of yards has {_MOST} at most.")


def rows_csv(rows: Iterable[YardRow]) -> bytes:
    """Return rows as CSV that opens in a spreadsheet; a cell that it would run as a formula is made text."""
    out = io.StringIO(newline="")
    writer = csv.DictWriter(out, list(FLAT), lineterminator="\r\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({name: _cell(value) for name, value in flat(row).items()})
    return out.getvalue().encode("utf-8-sig")


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:.3f}".rstrip("0").rstrip(".")
    return defused(value) if isinstance(value, str) else str(value)
