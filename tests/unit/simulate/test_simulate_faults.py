"""What the bad link does to rows: nothing is invented, nothing runs backwards, and the seed decides."""

from collections import Counter
from random import Random

from hypothesis import given
from hypothesis import strategies as st

from monitor.simulate import faults
from monitor.simulate.probe_errors import Sample

ROWS = faults.at_once(Sample(minute * 60_000, f"p{minute % 3}", "temperature", 20.0, "Cel") for minute in range(200))


def _ordered(rows):
    received = [row.received for row in rows]
    return received == sorted(received)


@given(st.integers(0, 10**6))
def test_disorder_keeps_every_row_and_delays_within_bounds(seed):
    rows = faults.disorder(ROWS, Random(seed), 600_000)
    assert Counter(row.sample for row in rows) == Counter(row.sample for row in ROWS)
    assert _ordered(rows)
    assert all(0 <= row.received - row.sample.time <= 600_000 for row in rows)
    assert rows == faults.disorder(ROWS, Random(seed), 600_000)


def test_disorder_lets_rows_overtake():
    times = [row.sample.time for row in faults.disorder(ROWS, Random(1), 600_000)]
    assert times != sorted(times)


@given(st.integers(0, 10**6))
def test_repeat_adds_copies_only(seed):
    rows = faults.repeat(ROWS, Random(seed), 0.2)
    assert len(rows) >= len(ROWS)
    assert {row.sample for row in rows} == {row.sample for row in ROWS}
    assert _ordered(rows)


@given(st.integers(0, 10**6), st.integers(1, 8))
def test_lose_only_takes_away(seed, run):
    rows = faults.lose(ROWS, Random(seed), 0.2, run)
    left = iter(ROWS)
    assert all(row in left for row in rows)  # a subsequence
    assert rows == faults.lose(ROWS, Random(seed), 0.2, run)


def test_lose_takes_about_its_share():
    assert 110 <= len(faults.lose(ROWS, Random(2), 0.3)) <= 170


def test_an_outage_ends_in_a_burst_in_order():
    rows = faults.outage(ROWS, 3_000_000, 6_000_000)
    assert [row.sample for row in rows] == [row.sample for row in ROWS]
    assert _ordered(rows)
    held = [row for row in rows if row.received != row.sample.time]
    assert len(held) >= 50
    assert min(row.received for row in held) == 6_000_000


def test_a_wrong_clock_shifts_one_probe_in_its_span():
    rows = faults.wrong_clock(ROWS, "p1", 3_600_000, 1_200_000, 2_400_000)
    moved = [(old, new) for old, new in zip(ROWS, rows, strict=True) if old != new]
    assert moved
    for old, new in moved:
        assert old.sample.probe == "p1"
        assert 1_200_000 <= old.sample.time < 2_400_000
        assert new.sample.time - old.sample.time == 3_600_000
        assert new.received == old.received
