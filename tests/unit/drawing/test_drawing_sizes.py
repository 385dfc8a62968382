"""A plot at several sizes: its lines stand once on the page, and in each drawing where it alone would have them."""

import itertools
import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from drawing_samples import START, line, plot
from hypothesis import example, given
from hypothesis import strategies as st

from monitor.drawing import Line, LineKind, Size, over_time, over_time_sizes
from monitor.drawing.plot_lines import eased
from monitor.model.times import HOUR_MS

SVG = "{http://www.w3.org/2000/svg}"
SIZES = [Size(860, 300, 2580, 36, 90), Size(460, 270, 1380, 36, 80), Size(276, 250, 828, 36, 70)]
BARE = {"second_unit": False, "left_room": 36, "names_room": 90}


def runs(svg, name, paths):
    """Return the strokes of a line from left to right, as the drawing shows them: lists of (x, y)."""
    found = []
    for one in (one for one in ET.fromstring(svg).iter() if one.get("data-line") == name):
        data = one.get("d") or paths[one.get("href", "#")[1:]]
        across, _, _, down, left, top = [float(part) for part in re.findall(r"-?[\d.]+", one.get("transform", ""))] or (
            1, 0, 0, 1, 0, 0,
        )  # fmt: skip
        for part in data.split("M")[1:]:
            numbers = [float(text) for text in re.findall(r"-?(?:\d+(?:\.\d+)?|\.\d+)", part)]
            xs, ys = (list(itertools.accumulate(numbers[k::2])) for k in (0, 1))
            found.append([(x * across + left, y * down + top) for x, y in zip(xs, ys, strict=True)])
    return sorted(found)


def paths_of(svg):
    return {one.get("id"): one.get("d", "") for one in ET.fromstring(svg).iter(SVG + "path") if one.get("id")}


def gappy(name):
    """A line with runs, and with readings that stand alone."""
    hours = np.array([0, 1, 2, 3, 9, 15, 21, 22, 23, 40])
    return Line(name=name, times=START + hours * HOUR_MS, milli=40_000 + hours * 500, max_gap_ms=2 * HOUR_MS)


def test_each_drawing_shows_the_lines_where_it_alone_would():
    south = line("south", LineKind.GOVERNING)
    # Few enough readings for the smallest, and not so steep that a tenth across is much in height.
    south = replace(south, times=south.times[::3], milli=40_000 + south.milli[::3] // 8)
    picture = plot("A", **BARE, lines=(gappy("north"), south))
    drawings = over_time_sizes(picture, SIZES, "line-x")
    paths = paths_of(drawings[0])
    assert len(paths) == 2
    for size, svg in zip(SIZES, drawings, strict=True):
        alone = over_time(replace(picture, **size._asdict()))
        for name in ("north", "south"):
            for shown, expected in zip(runs(svg, name, paths), runs(alone, name, {}), strict=True):
                assert [shown[0][0], shown[-1][0]] == pytest.approx([expected[0][0], expected[-1][0]], abs=0.11)
                heights = np.interp([x for x, _ in expected], *zip(*shown, strict=True))
                assert list(heights) == pytest.approx([y for _, y in expected], abs=0.35)


STEPS = st.tuples(st.floats(0, 5), st.floats(-20, 20))


@given(st.lists(STEPS, min_size=1, max_size=60))
@example([(0, 0), (0, 5), (1, -5)])
@example([(1, 0), (1, 0), (1, 0.1), (1, 5)])
def test_what_is_left_out_lies_nearly_on_the_line(steps):
    run = list(zip(*(itertools.accumulate(part) for part in zip(*steps, strict=True)), strict=True))
    kept = eased(run)
    assert [kept[0], kept[-1]] == [run[0], run[-1]]
    left = iter(run)
    assert all(any(point == one for one in left) for point in kept[:-1]), "some of the points, in their order"
    for (x0, y0), (x1, y1) in pairwise(kept):
        for x, y in run[run.index((x0, y0)) : run.index((x1, y1))]:
            if x0 < x < x1:
                assert abs(y0 + (y1 - y0) * (x - x0) / (x1 - x0) - y) <= 0.2 + 1e-6


def test_a_straight_line_needs_two_points_and_a_peak_stays():
    assert eased([(x, 2 * x) for x in range(50)]) == [(0, 0), (49, 98)]
    assert (25, 9) in eased([(x, 9 if x == 25 else 0.1 * (x % 2)) for x in range(50)])


def test_the_lines_stand_once_and_nothing_else_has_an_id():
    first, *others = over_time_sizes(plot("A", **BARE), SIZES, "line-x")
    ids = re.findall(r'<path id="([^"]+)"', first)
    assert len(set(ids)) == len(ids) == 4
    assert re.findall(r'<svg [^>]*id="([^"]+)"', first) == ["line-x"]
    for svg in others:
        assert ' id="' not in svg
        assert 'role="img" aria-labelledby="line-x"' in svg, "the words stand once, too"
        assert set(re.findall(r'href="#([^"]+)"', svg)) == set(ids)


def test_a_reading_that_stands_alone_does_not_shrink():
    lone = Line(name="north", times=np.array([START + HOUR_MS]), milli=np.array([40_000]), max_gap_ms=HOUR_MS)
    for svg in over_time_sizes(plot("A", **BARE, lines=(lone,)), SIZES, "line-x"):
        (((x0, y0), (x1, y1)),) = runs(svg, "north", {})
        assert (round(x1 - x0, 3), y0 - y1) == (1, 0)
