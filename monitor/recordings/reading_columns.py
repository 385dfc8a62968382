"""Rows of readings as columns, 31 bytes a row: a year of readings fits into memory so.

Rules: rows stand in the order of their files; a probe, unit or quantity is an index into a list of names, and joining files
continues that list.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import repeat
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from monitor.model.flags import Flag
from monitor.model.readings import Reading
from monitor.model.units import Quantity

QUANTITIES = tuple(Quantity)
NOT_SAID = -(1 << 63)
"""In the column `received`: the file does not say when. Far before every instant that can be written."""

_FLAGS = {0: None, **{int(flag): flag for flag in Flag}}
_SAID = {flag: number for number, flag in _FLAGS.items()}


class Told(NamedTuple):
    """Details of a reading taken by hand: the reader's name, the thermometer, the depth (as written)."""

    by: str = ""
    thermometer: str = ""
    depth: str = ""


class ReadingRow(NamedTuple):
    """One row.

    Attributes:
        time: The reading's own time, UTC ms.
        probe: Series id.
        quantity: Quantity of the probe.
        micro: Value as sent, millionths of `unit`.
        unit: UCUM unit code.
        received: When it was taken in, UTC ms, or None if the file does not say.
        quality: Its flag when the file was written, or None.
        told: Details if it was taken by hand, or None.
    """

    time: int
    probe: str
    quantity: Quantity
    micro: int
    unit: str
    received: int | None = None
    quality: Flag | None = None
    told: Told | None = None

    def reading(self) -> Reading:
        """Return the reading for conditioning."""
        return Reading(self.time, self.probe, self.micro, self.unit)


@dataclass(frozen=True, slots=True, eq=False)
class ReadingColumns:
    """Rows as arrays.

    Attributes:
        time: Own time of each row, UTC ms.
        micro: Its value as sent, millionths of its unit.
        received: When it was taken in, UTC ms, or `NOT_SAID`.
        probe, unit: Indices into `names` and `units`.
        quantity: Index into `QUANTITIES`.
        quality: Its flag as a number, or 0 if the file has none.
        names, units: The texts behind the indices; after `joined`, each occurs in some row.
        told: Details of rows taken by hand, by row.
    """

    time: NDArray[np.int64]
    micro: NDArray[np.int64]
    received: NDArray[np.int64]
    probe: NDArray[np.int32]
    unit: NDArray[np.int8]
    quantity: NDArray[np.int8]
    quality: NDArray[np.int8]
    names: tuple[str, ...]
    units: tuple[str, ...]
    told: Mapping[int, Told] = field(default_factory=dict)

    def __len__(self) -> int:
        return len(self.time)

    def rows(self) -> Iterator[ReadingRow]:
        """Yield the rows, each an object."""
        received = self.received.tolist()
        # Bypass the named tuple's constructor, a Python call: a year of readings would make ten million of them.
        return map(
            tuple.__new__,
            repeat(ReadingRow),
            zip(
                self.time.tolist(),
                map(self.names.__getitem__, self.probe.tolist()),
                map(QUANTITIES.__getitem__, self.quantity.tolist()),
                self.micro.tolist(),
                map(self.units.__getitem__, self.unit.tolist()),
                received if NOT_SAID not in received else (None if one == NOT_SAID else one for one in received),
                map(_FLAGS.__getitem__, self.quality.tolist()),
                map(self.told.get, range(len(self))) if self.told else repeat(None, len(self)),
                strict=True,
            ),
        )


def columns_of(rows: Iterable[ReadingRow]) -> ReadingColumns:
    """Return rows as columns."""
    names, units = dict[str, int](), dict[str, int]()
    kept = _Kept()
    for row in rows:
        kept.time.append(row.time)
        kept.micro.append(row.micro)
        kept.received.append(NOT_SAID if row.received is None else row.received)
        kept.probe.append(names.setdefault(row.probe, len(names)))
        kept.unit.append(units.setdefault(row.unit, len(units)))
        kept.quantity.append(QUANTITIES.index(row.quantity))
        kept.quality.append(_SAID[row.quality])
        if row.told is not None:
            kept.told[len(kept.time) - 1] = row.told
    return kept.columns(names, units)


def joined(parts: Iterable[ReadingColumns]) -> ReadingColumns:
    """Return the rows of many parts behind one another; drops each part before it asks for the next."""
    names, units = dict[str, int](), dict[str, int]()
    kept = _Kept()
    for part in parts:
        kept.told |= {len(kept.time) + row: told for row, told in part.told.items()}
        kept.time.frombytes(part.time.tobytes())
        kept.micro.frombytes(part.micro.tobytes())
        kept.received.frombytes(part.received.tobytes())
        kept.probe.frombytes(_counted_on(part.probe, part.names, names).tobytes())
        kept.unit.frombytes(_counted_on(part.unit, part.units, units).tobytes())
        kept.quantity.frombytes(part.quantity.tobytes())
        kept.quality.frombytes(part.quality.tobytes())
    return kept.columns(names, units)


class _Kept:
    """Columns that grow."""

    def __init__(self) -> None:
        self.time, self.micro, self.received, self.probe = array("q"), array("q"), array("q"), array("i")
        self.unit, self.quantity, self.quality = array("b"), array("b"), array("b")
        self.told: dict[int, Told] = {}

    def columns(self, names: Iterable[str], units: Iterable[str]) -> ReadingColumns:
        return ReadingColumns(
            _array(self.time, np.int64),
            _array(self.micro, np.int64),
            _array(self.received, np.int64),
            _array(self.probe, np.int32),
            _array(self.unit, np.int8),
            _array(self.quantity, np.int8),
            _array(self.quality, np.int8),
            tuple(names),
            tuple(units),
            self.told,
        )


def _array(kept: array[int], kind: Any) -> NDArray[Any]:
    return np.frombuffer(kept, dtype=kind) if kept else np.zeros(0, kind)


def _counted_on(codes: NDArray[Any], texts: tuple[str, ...], known: dict[str, int]) -> NDArray[Any]:
    """Return indices into `known`, after adding the texts that rows name."""
    for code in np.flatnonzero(np.bincount(codes, minlength=len(texts))).tolist():
        known.setdefault(texts[code], len(known))
    place = np.array([known.get(text, 0) for text in texts], dtype=codes.dtype)
    return codes if np.array_equal(place, np.arange(len(place))) else place[codes]
