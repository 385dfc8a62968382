"""The readings inside a certificate: written and read back as they are; bad ones spoil the whole."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.app.cases.csv_format import ReadingsCsv
from monitor.certificate import CsvRows
from monitor.model.errors import MisuseError

NAMES = ("a", "hand:p1", 'odd "name", b')
UNITS = ("Cel", "[degF]", "K")
ROW = st.tuples(
    st.integers(946_684_800_000, 4_102_444_800_000), st.integers(0, 2), st.integers(-10**9, 10**9), st.integers(0, 2),
    st.sampled_from([1, 2, 3, 4, 9]),
)  # fmt: skip


def rows_of(rows):
    times, probes, micro, units, quality = zip(*rows, strict=True) if rows else ((), (), (), (), ())
    return CsvRows(
        times=np.array(times, dtype=np.int64),
        probes=np.array(probes, dtype=np.int32),
        probe_names=NAMES,
        micro=np.array(micro, dtype=np.int64),
        units=np.array(units, dtype=np.int8),
        unit_names=UNITS,
        quality=np.array(quality, dtype=np.int8),
    )


def plain(rows):
    return [
        (time, rows.probe_names[probe], micro, rows.unit_names[unit], quality)
        for time, probe, micro, unit, quality in zip(
            rows.times.tolist(), rows.probes.tolist(), rows.micro.tolist(), rows.units.tolist(), rows.quality.tolist(),
            strict=True,
        )
    ]  # fmt: skip


@settings(max_examples=80, deadline=None)
@given(st.lists(ROW, max_size=30))
def test_rows_come_back_as_they_were(rows):
    given_rows = rows_of(rows)
    assert plain(ReadingsCsv().read(ReadingsCsv().write(given_rows), 100)) == plain(given_rows)


def test_equal_rows_give_equal_bytes_with_the_recordings_header():
    text = ReadingsCsv().write(rows_of([(1_772_323_200_001, 0, 58_500_000, 0, 2)]))
    assert text == b"time,probe,quantity,value,unit,quality\n2026-03-01T00:00:00.001Z,a,temperature,58.5,Cel,2\n"


@pytest.mark.parametrize(
    "line",
    [
        b"2026-03-01T00:00:00Z,a,temperature,warm,Cel,1\n",
        b"2026-03-01T00:00:00Z,a,moisture,60,%,1\n",
        b"2026-03-01T00:00:00Z,a,temperature,60,Cel,\n",
        b"2026-03-01T00:00:00Z,a,temperature,60,Cel,7\n",
        b"2026-03-01T00:00:00Z,a,temperature\n",
    ],
)
def test_one_bad_row_spoils_the_whole(line):
    head = b"time,probe,quantity,value,unit,quality\n2026-03-01T00:00:00Z,b,temperature,60,Cel,1\n"
    with pytest.raises(MisuseError):
        ReadingsCsv().read(head + line, 100)


def test_too_many_rows_are_refused():
    text = ReadingsCsv().write(rows_of([(1_772_323_200_000 + n, 0, 1, 0, 1) for n in range(5)]))
    with pytest.raises(MisuseError, match="more than 4 rows"):
        ReadingsCsv().read(text, 4)
