"""The attached readings as columns, and the seam to the code that writes and reads them as CSV.

The rows are those of the `readings` recording (time, probe, quantity, value, unit, quality), temperatures only, each
as it was sent, ordered by time and then by probe. They are packed with gzip so that equal rows give equal bytes.
"""

import gzip
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from monitor.certificate.judged import CaseProbe
from monitor.model.errors import MisuseError

_KIND = TypeVar("_KIND", bound=np.generic)

MOST_ROWS = 20_000_000
"""So many readings a certificate may carry; a year of 30 probes each minute stays below."""

MOST_CSV_BYTES = 2_000_000_000
"""So large the readings may be once unpacked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CsvRows:
    """Readings of temperature in order of time, then of probe; one column each.

    Attributes:
        times: When each was taken, UTC ms.
        probes: Whose it is, as a place in `probe_names`.
        probe_names: Ids of the probes.
        micro: Values as sent, millionths of the unit.
        units: Unit of each, as a place in `unit_names`.
        unit_names: UCUM codes.
        quality: QARTOD flag of each.
    """

    times: NDArray[np.int64]
    probes: NDArray[np.int32]
    probe_names: tuple[str, ...]
    micro: NDArray[np.int64]
    units: NDArray[np.int8]
    unit_names: tuple[str, ...]
    quality: NDArray[np.int8]


class CsvFormat(Protocol):
    """Writes and reads the `readings` CSV; filled in by who may use the recordings."""

    def write(self, rows: CsvRows) -> bytes:
        """Return the rows as UTF-8 CSV with a header, in the order given."""
        ...

    def read(self, text: bytes, most_rows: int) -> CsvRows:
        """Return the rows of a CSV in its own order.

        Raises:
            MisuseError, ValueError: Any row is bad, not a temperature, or there are more than `most_rows`.
        """
        ...


def gather_rows(probes: Sequence[CaseProbe]) -> CsvRows:
    """Return all readings of a case's probes as rows."""
    unit_names = tuple(dict.fromkeys(name for one in probes for name in one.unit_names))
    place = {name: at for at, name in enumerate(unit_names)}
    units = [np.array([place[name] for name in one.unit_names] or [0], dtype=np.int8)[one.units] for one in probes]
    by_name = sorted(range(len(probes)), key=lambda at: probes[at].probe)
    rank = {at: order for order, at in enumerate(by_name)}
    ranks = [np.full(one.times.shape, rank[at], dtype=np.int32) for at, one in enumerate(probes)]
    times = _joined([one.times for one in probes], np.int64)
    whose = _joined(ranks, np.int32)
    order = np.lexsort((whose, times))
    return CsvRows(
        times=times[order],
        probes=whose[order],
        probe_names=tuple(probes[at].probe for at in by_name),
        micro=_joined([one.micro for one in probes], np.int64)[order],
        units=_joined(units, np.int8)[order],
        unit_names=unit_names,
        quality=_joined([one.quality for one in probes], np.int8)[order],
    )


def _joined(columns: Sequence[NDArray[_KIND]], kind: type[_KIND]) -> NDArray[_KIND]:
    return np.concatenate([np.asarray(one, dtype=kind) for one in columns] or [np.empty(0, dtype=kind)])


def pack(text: bytes) -> bytes:
    """Return bytes packed by gzip; equal bytes always give equal ones."""
    return gzip.compress(text, compresslevel=9, mtime=0)


def unpack(packed: bytes, most_bytes: int = MOST_CSV_BYTES) -> bytes:
    """Return the bytes that `pack` was given.

    Raises:
        MisuseError: These are not such bytes, something follows them, or they would grow beyond `most_bytes`.
    """
    unpacker = zlib.decompressobj(wbits=31)
    try:
        text = unpacker.decompress(packed, most_bytes + 1)
    except zlib.error as fault:
        raise MisuseError(f"The attached readings cannot be unpacked ({fault}).") from fault
    if len(text) > most_bytes:
        raise MisuseError(f"The attached readings unpack to more than {most_bytes} bytes; no record is that long.")
    if not unpacker.eof or unpacker.unused_data:
        raise MisuseError("The attached readings are cut short, or something was put behind them.")
    return text
