"""Writes and reads the readings of a certificate as the CSV of recordings; reading is strict.

A row that cannot be read, or is no temperature, spoils the whole file, because the signed file had no such row.
"""

import tempfile
from array import array
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from monitor.certificate import CsvRows
from monitor.model.errors import MisuseError
from monitor.model.times import HOUR_MS, show_time
from monitor.model.units import Quantity
from monitor.recordings import Problems, row_line, show_micro, stream_readings

_HEADER = ("time", "probe", "quantity", "value", "unit", "quality")


class ReadingsCsv:
    """Writes and reads the `readings` recording without the column `received`."""

    def write(self, rows: CsvRows) -> bytes:
        """Return the rows as UTF-8 CSV, in the order given."""
        head = row_line(_HEADER)
        names = [row_line((name,)).rstrip("\n") for name in rows.probe_names]
        shown: dict[int, str] = {}

        def lines() -> Iterator[str]:
            yield head
            hour, prefix = None, ""
            columns = (rows.times, rows.probes, rows.micro, rows.units, rows.quality)
            for time, probe, micro, unit, quality in zip(*(column.tolist() for column in columns), strict=True):
                # Hours and values repeat, so their texts are reused; this writes a year of readings in seconds.
                if time // HOUR_MS != hour:
                    hour = time // HOUR_MS
                    prefix = show_time(hour * HOUR_MS)[:14]
                rest = time % HOUR_MS
                stamp = f"{prefix}{rest // 60_000:02d}:{rest // 1000 % 60:02d}.{rest % 1000:03d}Z"
                value = shown.get(micro)
                if value is None:
                    value = shown[micro] = show_micro(micro)
                yield f"{stamp},{names[probe]},temperature,{value},{rows.unit_names[unit]},{quality}\n"

        return "".join(lines()).encode()

    def read(self, text: bytes, most_rows: int) -> CsvRows:
        """Return the rows of a CSV in its own order.

        Raises:
            MisuseError: Any row is bad or no temperature, or there are more than `most_rows`.
        """
        with tempfile.TemporaryDirectory(prefix="heaptender-") as folder:
            path = Path(folder) / "readings.csv"
            path.write_bytes(text)
            return _gathered(path, most_rows)


def _gathered(path: Path, most_rows: int) -> CsvRows:
    probes: dict[str, int] = {}
    units: dict[str, int] = {}
    times, whose, micro, unit, quality = array("q"), array("i"), array("q"), array("b"), array("b")
    for row in stream_readings(path, Problems(strict=True)):
        if len(times) >= most_rows:
            raise MisuseError(f"The attached readings have more than {most_rows} rows; no record is that long.")
        if row.quantity is not Quantity.TEMPERATURE or row.quality is None:
            raise MisuseError(
                f"A row of the attached readings ({show_time(row.time)}) is no temperature with a quality."
            )
        times.append(row.time)
        whose.append(probes.setdefault(row.probe, len(probes)))
        micro.append(row.micro)
        unit.append(units.setdefault(row.unit, len(units)))
        quality.append(int(row.quality))
    return CsvRows(
        times=np.array(times, dtype=np.int64),
        probes=np.array(whose, dtype=np.int32),
        probe_names=tuple(probes),
        micro=np.array(micro, dtype=np.int64),
        units=np.array(unit, dtype=np.int8),
        unit_names=tuple(units),
        quality=np.array(quality, dtype=np.int8),
    )
