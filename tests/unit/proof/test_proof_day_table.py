"""A batch day by day, in the site's own calendar."""

import random
from datetime import UTC, datetime
from fractions import Fraction
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from monitor.model.times import DAY_MS, HOUR_MS
from monitor.proof.governing import LinePiece, governing
from monitor.proof.holdset import HoldBasis, hold_set
from monitor.proof.report import by_week_after, day_table
from monitor.proof.report.day_table import local_days, mean_of
from monitor.proof.rules import Limits
from monitor.proof.temperature import Series

NEW_YORK = ZoneInfo("America/New_York")


def ms(text):
    return round(datetime.fromisoformat(text).timestamp() * 1000)


def table(series, start, end, zone=UTC, low=55_000, max_gap_ms=2 * HOUR_MS):
    sets = hold_set(series, Limits(low_milli_c=low), max_gap_ms=max_gap_ms, basis=HoldBasis.COLDEST)
    line = governing(series, max_gap_ms=max_gap_ms)
    return day_table(line, sets.hold, sets.proven, start=start, end=end, zone=zone)


def hourly(start, values):
    times = start + np.arange(len(values), dtype=np.int64) * HOUR_MS
    return [Series(probe="a", times=times, milli_c=np.array(values, dtype=np.int64))]


def test_whole_days_and_the_cut_ends():
    start = ms("2026-05-01T18:00:00Z")
    # 6 h at 50, then rising by 1 degree an hour for 24 h, then 74 for 5 h.
    values = [50_000] * 7 + [50_000 + 1000 * n for n in range(1, 25)] + [74_000] * 5
    rows = table(hourly(start, values), start, start + 35 * HOUR_MS)
    assert [(row.day, row.length_ms // HOUR_MS) for row in rows] == [
        ("2026-05-01", 6),
        ("2026-05-02", 24),
        ("2026-05-03", 5),
    ]
    assert [(row.min_milli_c, row.mean_milli_c, row.max_milli_c) for row in rows] == [
        (50_000, 50_000, 50_000),
        (50_000, 62_000, 74_000),
        (74_000, 74_000, 74_000),
    ]
    # 55 is passed 5 h into the second day.
    assert [row.hold_ms // HOUR_MS for row in rows] == [0, 19, 5]
    assert [(row.proven_ms, row.coverage_milli) for row in rows] == [(row.length_ms, 1000) for row in rows]
    assert (rows[0].start, rows[0].end, rows[-1].end) == (start, ms("2026-05-02T00:00:00Z"), start + 35 * HOUR_MS)


@pytest.mark.parametrize(
    ("first", "day", "hours"),
    [("2026-03-07T12:00:00-05:00", "2026-03-08", 23), ("2026-10-31T12:00:00-04:00", "2026-11-01", 25)],
)
def test_days_on_which_clocks_change(first, day, hours):
    # United States: second Sunday of March and first of November (Energy Policy Act of 2005)
    start = ms(first)
    rows = table(hourly(start, [60_000] * 73), start, start + 72 * HOUR_MS, NEW_YORK)
    assert [row.length_ms // HOUR_MS for row in rows] == [12, hours, 24, 72 - 12 - hours - 24]
    assert rows[1].day == day
    assert rows[1].hold_ms == rows[1].proven_ms == hours * HOUR_MS
    assert sum(row.length_ms for row in rows) == 72 * HOUR_MS


def test_a_midnight_that_does_not_exist_and_a_day_that_does_not():
    # Beirut goes forward at midnight; Apia left out 30 December 2011 (IANA time zone database).
    start = ms("2021-03-27T12:00:00+02:00")
    days = list(local_days(start, start + 2 * DAY_MS, ZoneInfo("Asia/Beirut")))
    assert [((end - begin) // HOUR_MS, day.isoformat()) for day, begin, end in days] == [
        (12, "2021-03-27"),
        (23, "2021-03-28"),
        (13, "2021-03-29"),
    ]
    start = ms("2011-12-29T12:00:00-10:00")
    days = list(local_days(start, start + DAY_MS, ZoneInfo("Pacific/Apia")))
    assert [((end - begin) // HOUR_MS, day.isoformat()) for day, begin, end in days] == [
        (12, "2011-12-29"),
        (12, "2011-12-31"),
    ]


def test_gaps_lower_the_coverage_and_nothing_else():
    start = ms("2026-05-01T00:00:00Z")
    times = np.array([start, start + HOUR_MS, start + 20 * HOUR_MS, start + 21 * HOUR_MS])
    one = [Series(probe="a", times=times, milli_c=np.array([50_000, 60_000, 70_000, 70_000]))]
    first, second = table(one, start, start + 2 * DAY_MS)
    assert (first.min_milli_c, first.mean_milli_c, first.max_milli_c) == (50_000, 62_500, 70_000)
    # At 55 for the second half of the first hour, and for the whole of the other.
    assert (first.hold_ms, first.proven_ms, first.coverage_milli) == (HOUR_MS * 3 // 2, 2 * HOUR_MS, 83)
    assert (second.min_milli_c, second.mean_milli_c, second.max_milli_c) == (None, None, None)
    assert (second.hold_ms, second.proven_ms, second.coverage_milli) == (0, 0, 0)


def test_single_readings_have_their_plain_mean_and_prove_no_time():
    start = ms("2026-05-01T00:00:00Z")
    times = start + np.array([1, 9, 17]) * HOUR_MS
    one = [Series(probe="a", times=times, milli_c=np.array([50_000, 56_000, 57_001]))]
    (row,) = table(one, start, start + DAY_MS)
    assert (row.min_milli_c, row.mean_milli_c, row.max_milli_c) == (50_000, 54_334, 57_001)
    assert (row.hold_ms, row.proven_ms) == (0, 0)


def test_a_record_of_one_instant():
    start = ms("2026-05-01T07:00:00Z")
    (row,) = table(hourly(start, [60_000]), start, start)
    assert (row.day, row.length_ms, row.coverage_milli, row.mean_milli_c) == ("2026-05-01", 0, 0, 60_000)


def test_means_are_exact_integrals():
    rng = random.Random(2)
    for _ in range(60):
        times = np.cumsum([rng.randint(1, 9) for _ in range(12)])
        values = np.array([rng.randint(-50, 50) for _ in range(12)])
        line = [LinePiece(times[:5], values[:5]), LinePiece(times[5:], values[5:])]
        start, end = sorted(rng.sample(range(int(times[-1]) + 5), 2))
        whole, lasted = Fraction(0), 0
        for piece in line:
            for t0, v0, t1, v1 in zip(piece.times, piece.milli_c, piece.times[1:], piece.milli_c[1:], strict=False):
                for at in range(max(int(t0), start), min(int(t1), end)):
                    # A straight line's integral over a millisecond is its value in the middle of it.
                    whole += int(v0) + Fraction(int(v1 - v0) * (2 * at + 1 - 2 * int(t0)), 2 * int(t1 - t0))
                    lasted += 1
        if lasted:
            assert mean_of(line, start, end) == round(whole / lasted)
    assert mean_of(line, -9, -5) is None


def test_days_after_the_rule_was_met_are_told_by_weeks():
    start = ms("2026-05-01T12:00:00Z")
    # 16 and a half days of hourly readings, on each day a degree more; cut on the second of three weeks.
    values = [50_000 + 1000 * (hour // 24) for hour in range(17 * 24 + 13)]
    rows = table(hourly(start, values), start, start + (17 * 24 + 12) * HOUR_MS)
    assert by_week_after(rows, None, ()) == rows
    line = governing(hourly(start, values), max_gap_ms=2 * HOUR_MS)
    met = rows[2].start
    folded = by_week_after(rows, met, line)
    assert folded[:3] == rows[:3]
    assert [row.day for row in folded[3:]] == ["2026-05-04 to 2026-05-10", "2026-05-11 to 2026-05-17", "2026-05-18"]
    for week, days in zip(folded[3:], (rows[3:10], rows[10:17], rows[17:]), strict=True):
        assert (week.start, week.end) == (days[0].start, days[-1].end)
        assert week.min_milli_c == min(day.min_milli_c for day in days)
        assert week.max_milli_c == max(day.max_milli_c for day in days)
        assert abs(week.mean_milli_c - sum(day.mean_milli_c for day in days) / len(days)) < 1
        assert (week.hold_ms, week.proven_ms) == (sum(day.hold_ms for day in days), sum(day.proven_ms for day in days))
    assert len(by_week_after(rows, met - 1, line)) == 2 + 3


def test_large_numbers_do_not_overflow():
    times = np.array([0, 2**50, 2**51, 2**51 + 4])
    line = [LinePiece(times, np.array([2**40, 2**40, 2**40, 2**40]))]
    assert mean_of(line, 1, 2**51 + 3) == 2**40
