"""Parquet files as recordings; the first byte says how an input makes one. `p`: it is the file. `t`: JSON, a list of columns, each
its name, its Arrow type and its values, written as Parquet: a whole file of another program's, whose types nobody expected.
"""

import io
import json

import pyarrow as pa
import pyarrow.parquet as pq

from monitor.model.errors import MisuseError
from monitor.recordings import (
    About,
    Kind,
    Problems,
    read_readings,
    read_work,
    sniff,
    write_readings_parquet,
    write_work_parquet,
)
from tests.fuzz.contract import Parser, file_of

TYPES = {
    "string": pa.string(), "large": pa.large_string(), "binary": pa.binary(), "int8": pa.int8(), "int64": pa.int64(), "uint64": pa.uint64(),
    "double": pa.float64(), "bool": pa.bool_(), "null": pa.null(), "date": pa.date32(), "s": pa.timestamp("s", "UTC"), "ms": pa.timestamp("ms", "UTC"),
    "ns": pa.timestamp("ns", "UTC"), "zone": pa.timestamp("us", "America/New_York"), "bare": pa.timestamp("ms"), "decimal": pa.decimal128(38, 6),
    "tenths": pa.decimal128(10, 1), "huge": pa.decimal256(76, 30), "list": pa.list_(pa.string()), "words": pa.dictionary(pa.int32(), pa.string()),
}  # fmt: skip
WRITE = {Kind.READINGS: write_readings_parquet, Kind.WORK: write_work_parquet}
READ = {Kind.READINGS: read_readings, Kind.WORK: read_work}


def _table(text):
    try:
        columns = {str(name): pa.array(values, TYPES[kind]) for name, kind, values in json.loads(text)}
        out = io.BytesIO()
        pq.write_table(pa.table(columns), out)
    except (ValueError, TypeError, KeyError, OverflowError, RecursionError, pa.ArrowException):
        return b""
    return out.getvalue()


def read(data):
    """Read a file, and what is written of it."""
    if data[:1] not in (b"p", b"t"):
        return
    path = file_of(data[1:] if data[:1] == b"p" else _table(data[1:]), "recording.parquet")
    kind = sniff(path, Problems())
    if kind not in READ:
        return
    rows, problems = READ[kind](path)
    assert all(one.isprintable() or "\n" in one for one in problems.sentences()), problems.sentences()
    out = io.BytesIO()
    WRITE[kind](rows, out, About("yard", "UTC"))
    again, wrong = READ[kind](file_of(out.getvalue(), "again.parquet"))
    assert wrong.sentences() == [], wrong.sentences()
    assert len(again) == len(rows)


def _readings():
    out = io.BytesIO()
    rows, _ = read_readings(
        file_of(
            b"time,probe,quantity,value,unit\n2026-07-19T12:00:00Z,p1-a,temperature,54.5,Cel\n2026-07-19T12:01:00Z,p1-a,temperature,54.6,Cel\n",
            "s.csv",
        )
    )
    write_readings_parquet(rows, out, About("yard", "UTC"))
    return out.getvalue()


_COLUMNS = [
    ["time", "ms", [1784462400000, 1784462460000]], ["probe", "string", ["p1-a", "p1-a"]], ["quantity", "string", ["temperature", "temperature"]],
    ["value", "double", [54.5, 1e300]], ["unit", "words", ["Cel", None]],
]  # fmt: skip
PARSER = Parser(
    read,
    allowed=(MisuseError,),
    seeds=(
        b"p" + _readings(),
        b"t" + json.dumps(_COLUMNS).encode(),
        b"t"
        + json.dumps(
            [
                ["time", "zone", [5]],
                ["place", "string", ["p1"]],
                ["kind", "string", ["turned"]],
                ["by", "int64", [1 << 60]],
            ]
        ).encode(),
        b"t" + json.dumps([*_COLUMNS[:3], ["value", "huge", ["1.5", "2"]], ["unit", "list", [["a"], None]]]).encode(),
        b"t"
        + json.dumps(
            [
                *_COLUMNS[:4],
                ["unit", "binary", ["Cel", "Cel"]],
                ["quality", "int64", [1, 1 << 40]],
                ["received", "ns", [1, -1]],
            ]
        ).encode(),
    ),
    words=tuple(
        f'"{one}"'.encode()
        for one in (
            *TYPES,
            "time",
            "probe",
            "quantity",
            "value",
            "unit",
            "quality",
            "received",
            "spot",
            "place",
            "kind",
            "entered",
        )
    ),
    longest=6000,
    seconds=10,
)
