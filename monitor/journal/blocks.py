"""Lossless packing of many readings of one series into a few bytes each.

A block holds three columns of whole numbers: time, micro (the value as sent) and lag (`at` - time). Each column is
written as its values, their differences, or the differences of those, whichever packs best; divided by their greatest
common divisor (a probe that steps by 0.0625 degrees needs one byte a step, not three); folded so that small negative
numbers are small; split into byte planes; and deflated. Normative text: `docs/format-journal.md`.

numpy is imported here when it is first needed: a daemon at rest packs once an hour and starts without it.
"""

from __future__ import annotations

import struct
import zlib
from typing import TYPE_CHECKING, NamedTuple

from monitor.journal.deflated import inflate

if TYPE_CHECKING:
    from numpy import int64, uint8
    from numpy.typing import NDArray

BLOCK_ROWS = 3_600
"""Rows that a full block holds; one late row does not split it (see `packing`)."""

MOST_ROWS = 1 << 16
"""Rows beyond which a block is none of ours (our choice; one of ours has at most half as many again as a full one). A few
bytes can claim billions of equal rows, and a backup may come from anybody."""

_VERSION = 1
_HEAD = struct.Struct("<BII")  # version, rows, CRC-32 of the rest and the number of rows
_COLUMN = struct.Struct("<BBqqqI")  # order of differences, planes, divisor, first two seeds, packed length
_LEVEL = 6


class Columns(NamedTuple):
    """Readings of one series in order of time, as arrays of 64-bit integers."""

    time: NDArray[int64]
    micro: NDArray[int64]
    lag: NDArray[int64]


def pack(columns: Columns) -> bytes:
    """Return the columns as one block; at least one row."""
    rows = len(columns.time)
    body = b"".join(min((_pack_column(column, order) for order in (0, 1, 2)), key=len) for column in columns)
    return _HEAD.pack(_VERSION, rows, zlib.crc32(body, rows)) + body


def unpack(data: bytes) -> Columns:
    """Return the columns of a block.

    Raises:
        ValueError: The bytes are no block, are cut short or fail their checksum.
    """
    try:
        version, rows, check = _HEAD.unpack_from(data)
        if version != _VERSION:
            raise ValueError(f"its version {version} is unknown")
        if zlib.crc32(data[_HEAD.size :], rows) != check:
            raise ValueError("its checksum is wrong")
        if not 0 < rows <= MOST_ROWS:
            raise ValueError(f"it claims {rows} rows, and a block has 1 to {MOST_ROWS}")
        place = _HEAD.size
        found = []
        for _ in range(3):
            column, place = _unpack_column(data, place, rows)
            found.append(column)
    except (struct.error, ValueError) as fault:
        raise ValueError(f"a block is damaged: {fault}") from fault
    return Columns(*found)


def _pack_column(column: NDArray[int64], order: int) -> bytes:
    import numpy as np  # noqa: PLC0415 -- see the module's docstring

    seeds = [0, 0]
    steps = column
    for level in range(order):
        if len(steps):
            seeds[level] = int(steps[0])
        steps = np.diff(steps)
    divisor = (int(np.gcd.reduce(steps)) if len(steps) else 1) or 1
    small = steps // divisor
    folded = ((small << 1) ^ (small >> 63)).view(np.uint64)
    planes = (int(folded.max()).bit_length() + 7) // 8 if len(folded) else 0
    shuffled = folded.astype("<u8").view(np.uint8).reshape(-1, 8)[:, :planes].T
    packed = zlib.compress(np.ascontiguousarray(shuffled).tobytes(), _LEVEL)
    return _COLUMN.pack(order, planes, divisor, *seeds, len(packed)) + packed


def _unpack_column(data: bytes, place: int, rows: int) -> tuple[NDArray[int64], int]:
    import numpy as np  # noqa: PLC0415 -- see the module's docstring

    order, planes, divisor, first, second, length = _COLUMN.unpack_from(data, place)
    start = place + _COLUMN.size
    count = max(rows - order, 0)
    raw = inflate(data[start : start + length], planes * count)
    if order > 2 or planes > 8 or len(raw) != planes * count:
        raise ValueError("its length is wrong")
    values = _unfold(np.frombuffer(raw, dtype=np.uint8), planes, count)
    if divisor != 1:
        values *= divisor
    for seed in (first, second)[:order][::-1]:
        summed = np.empty(len(values) + 1, dtype=np.int64)
        summed[0], summed[1:] = seed, values
        values = np.cumsum(summed, out=summed)
    return values[:rows], start + length


def _unfold(raw: NDArray[uint8], planes: int, count: int) -> NDArray[int64]:
    """Return whole numbers from their byte planes. Most columns have one or two planes, and adding those beats shuffling."""
    import numpy as np  # noqa: PLC0415 -- see the module's docstring

    if planes < 8:
        small = np.zeros(count, dtype=np.int64)
        for plane, part in enumerate(raw.reshape(planes, count)):
            small |= part.astype(np.int64) << (8 * plane)
        return (small >> 1) ^ -(small & 1)
    folded = np.ascontiguousarray(raw.reshape(8, count).T).view("<u8").reshape(-1)
    return (folded >> np.uint64(1)).astype(np.int64) ^ -((folded & np.uint64(1)).astype(np.int64))
