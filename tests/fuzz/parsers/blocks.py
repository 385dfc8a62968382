"""Packed readings and the engine's snapshots, as a hostile or damaged journal may hold them; the first byte says which.

`b`: a block behind its checksum (4 bytes of rows, then the columns). `c`: the columns themselves, eight bytes a value: what is
packed is unpacked the same. `s`: a snapshot's JSON. `z`: a snapshot's row, deflated.
"""

import struct
import zlib

import numpy as np

from monitor.engine import Engine
from monitor.journal.blocks import Columns, pack, unpack
from tests.fuzz.contract import Parser
from tests.fuzz.parsers.events import BEGUN_STATE

_HEAD = struct.Struct("<BII")


def _block(data):
    rows, body = int.from_bytes(data[:4], "little"), data[4:]
    found = unpack(_HEAD.pack(1, rows, zlib.crc32(body, rows)) + body)
    assert {len(column) for column in found} == {rows}
    assert rows > 0
    assert all((one == other).all() for one, other in zip(found, unpack(pack(found)), strict=True))


def _columns(data):
    values = np.frombuffer(data[: len(data) // 24 * 24], dtype="<i8").reshape(3, -1)
    if values.size:
        columns = Columns(*(column.copy() for column in values))
        assert all((one == other).all() for one, other in zip(columns, unpack(pack(columns)), strict=True))


def _snapshot(data):
    state = Engine.restore(data).snapshot()
    assert Engine.restore(state).snapshot() == state


READ = {b"b": _block, b"c": _columns, b"s": _snapshot, b"n": unpack}


def read(data):
    """Read the block or the snapshot that an input is."""
    if data[:1] in READ:
        READ[data[:1]](data[1:])


def _packed(*columns):
    made = pack(Columns(*(np.array(column, dtype=np.int64) for column in columns)))
    return made[1:5] + made[9:]


PARSER = Parser(
    read,
    allowed=(ValueError,),
    seeds=(
        b"b" + _packed([1, 61, 121, 181], [20_000_000, 20_062_500, 20_125_000, 20_062_500], [5, 5, 5, 6]),
        b"b" + _packed([7], [-1], [0]),
        b"n" + pack(Columns(*(np.array([one], dtype=np.int64) for one in (1, 2, 3)))),
        b"c" + bytes(range(240)),
        b"c" + struct.pack("<6q", 1, 1 << 62, -(1 << 63), (1 << 63) - 1, 0, -1),
        b"s" + BEGUN_STATE,
        b"s{}",
    ),
    words=(
        b"\x78\x9c",
        b"\xff\xff\xff\xff",
        b"\x00\x00\x00\x80",
        b'"version":',
        b"null",
        b'"agenda":',
        b'"runs":',
        b'"batches":',
        b'"alarms":',
        b"1e30",
    ),
    kept=15_000,
)
