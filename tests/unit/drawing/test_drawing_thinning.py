"""Thinning keeps lows, highs, ends and pauses; pictures of long records stay small."""

import itertools

import numpy as np
import pytest
from drawing_samples import END, START, plot
from hypothesis import given
from hypothesis import strategies as st

from monitor.drawing import Line, LineKind, over_time
from monitor.drawing.thinning import thin, thin_again
from monitor.model.times import HOUR_MS

records = st.lists(st.tuples(st.integers(1, 50), st.integers(-1000, 1000)), min_size=0, max_size=200)


def _arrays(record: list[tuple[int, int]], start: int = 0) -> tuple[np.ndarray, np.ndarray]:
    steps, values = (np.array([pair[k] for pair in record], np.int64) for k in (0, 1))
    return start + np.cumsum(steps), values


@given(records, st.integers(1, 40), st.one_of(st.none(), st.integers(1, 40)))
def test_every_column_keeps_its_lowest_and_highest(record, columns, max_gap_ms):
    times, milli = _arrays(record)
    end = 4000
    thinned = thin(times, milli, start=0, end=end, columns=columns, max_gap_ms=max_gap_ms)
    inside = times <= end
    kept = set(zip(thinned.times.tolist(), thinned.milli.tolist(), strict=True))
    for column in range(columns):
        low, high = end * column / columns, end * (column + 1) / columns
        of_column = inside & (times >= low) & (times < high)
        if of_column.any():
            values = {value for time, value in kept if low <= time < high}
            assert milli[of_column].min() in values
            assert milli[of_column].max() in values
    raw = set(zip(times.tolist(), milli.tolist(), strict=True))
    assert {pair for pair in kept if pair[0] != end} <= raw
    assert len(kept) <= 4 * columns * 2 + 2
    assert (np.diff(thinned.times) > 0).all()


@given(records, st.integers(1, 40), st.integers(1, 60))
def test_only_pauses_that_can_be_seen_part_the_line(record, columns, max_gap_ms):
    times, milli = _arrays(record)
    end = max(4000, int(times[-1]) if len(times) else 0)
    thinned = thin(times, milli, start=0, end=end, columns=columns, max_gap_ms=max_gap_ms)
    wide = max(max_gap_ms, int(end / columns))
    expected = [(int(a), int(b)) for a, b in itertools.pairwise(times) if b - a > wide]
    runs = thinned.runs()
    assert [(one[0][-1], other[0][0]) for one, other in itertools.pairwise(runs)] == expected
    if len(times):
        assert (runs[0][0][0], runs[-1][0][-1]) == (times[0], times[-1])
    again = thin_again(thinned, start=0, end=end, columns=max(1, columns // 2)).runs()
    assert [(one[0][0], one[0][-1]) for one in again] == [(one[0][0], one[0][-1]) for one in runs]
    for fewer, all_ in zip(again, runs, strict=True):
        assert (min(fewer[1]), max(fewer[1])) == (min(all_[1]), max(all_[1]))


def test_a_line_that_runs_right_across_the_plot_is_seen():
    thinned = thin(np.array([0, 100]), np.array([0, 1000]), start=40, end=60, columns=10)
    assert thinned.runs() == [([40, 60], [400, 600])]
    assert thin(np.array([0, 100]), np.array([0, 1000]), start=40, end=60, columns=10, max_gap_ms=99).runs() == []


def test_lengths_that_differ_are_refused():
    with pytest.raises(ValueError, match="2 times and 1 values"):
        thin(np.array([0, 1]), np.array([0]), start=0, end=10, columns=10)


def test_one_reading_among_a_million_is_seen():
    times = np.linspace(START, END, 1_000_000).astype(np.int64)
    milli = np.full(1_000_000, 50_000)
    milli[654_321] = 61_234
    svg = over_time(plot(lines=(Line(name="A", times=times, milli=milli),)))
    assert "122 °F to 142.2 °F" in svg


def _noisy(count: int, seed: int, *, gappy: bool) -> Line:
    rng = np.random.default_rng(seed)
    times = np.linspace(START, END, count).astype(np.int64)
    milli = (50_000 + 15_000 * rng.standard_normal(count)).astype(np.int64)
    keep = (np.arange(count) // max(1, count // 900)) % 2 == 0 if gappy else np.ones(count, bool)
    return Line(name=f"probe {seed}", times=times[keep], milli=milli[keep], max_gap_ms=60_000 if gappy else None)


@pytest.mark.parametrize("gappy", [False, True], ids=["whole", "gappy"])
@pytest.mark.parametrize("lines", [1, 3, 7, 20])
@pytest.mark.parametrize("width", [360, 720, 1100])
def test_a_picture_of_a_noisy_record_stays_small(lines: int, width: int, gappy: bool):
    svg = over_time(plot(lines=tuple(_noisy(40_000, seed, gappy=gappy) for seed in range(lines)), width=width))
    assert len(svg) < 60_000


def test_a_record_full_of_short_stretches_stays_small():
    step = HOUR_MS // 10
    spans = tuple((START + n * step, START + n * step + step // 2) for n in range(2400))
    svg = over_time(plot(holds=spans, unproven=spans))
    assert len(svg) < 60_000


def test_many_marks_and_rings_stay_small():
    times = np.arange(START, END, HOUR_MS // 20)
    hand = Line(name="dial", times=times, milli=np.arange(len(times)), kind=LineKind.BY_HAND)
    assert len(over_time(plot(lines=(hand,)))) < 60_000


def test_no_line_is_carried_over_a_cut_however_near_the_readings():
    times, milli = np.arange(0, 100, 10), np.arange(0, 1000, 100)
    parted = thin(times, milli, start=0, end=90, columns=90, max_gap_ms=20, cuts=[35])
    assert [run[0] for run in parted.runs()] == [[0, 10, 20, 30], [40, 50, 60, 70, 80, 90]]
    wide = thin(times, milli, start=0, end=90, columns=2, max_gap_ms=20, cuts=[35])
    assert len(wide.runs()) == 2
    at_edge = thin(times, milli, start=32, end=90, columns=90, cuts=[35])
    assert at_edge.times[0] == 40, "nor does it come in over an edge"
