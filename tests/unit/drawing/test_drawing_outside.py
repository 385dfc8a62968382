"""A probe that lies outside leaves a gap with a bracket; the degrees of heat differ in lightness, by day and at night."""

from itertools import pairwise
from xml.etree import ElementTree as ET
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from monitor.drawing import Line, Note, NoteKind, OverTime, Unit, over_time
from monitor.drawing.tokens import DARK, DAY, Colour
from monitor.model.times import HOUR_MS

START = 1_783_612_800_000


def drawn(lines, **more):
    return over_time(
        OverTime(start=START, end=START + 12 * HOUR_MS, zone=ZoneInfo("UTC"), unit=Unit.DEGC, lines=lines, **more)
    )


def line(name, outside=(), kept=lambda hour: True):
    hours = [hour / 4 for hour in range(49) if kept(hour / 4)]
    times = np.array([START + round(hour * HOUR_MS) for hour in hours], np.int64)
    return Line(name=name, times=times, milli=np.full(len(times), 60_000), max_gap_ms=2 * HOUR_MS, outside=outside)


def test_time_outside_is_a_gap_with_a_bracket():
    out = ((START + 6 * HOUR_MS, START + 7 * HOUR_MS),)
    svg = drawn((line("a", out, lambda hour: not 6 <= hour < 7), line("b", out, lambda hour: not 6 <= hour < 7)))
    root = ET.fromstring(svg)
    paths = {one.get("data-line"): one.get("d") for one in root.iter() if one.get("data-line")}
    assert paths["a"].count("M") == paths["b"].count("M") == 2
    brackets = [one for one in root.iter() if one.get("data-out")]
    assert [one.get("data-out") for one in brackets] == ["a", "b"]
    x0, x1 = float(root.get("data-x0")), float(root.get("data-x1"))
    assert float(brackets[0].get("x1")) == pytest.approx(x0 + (x1 - x0) / 2, abs=0.2)
    assert [one.text for one in root.iter() if one.text == "out"] == ["out"], "once for those that lay there together"
    assert "outside once" in root.get("aria-label")


def test_one_that_is_still_outside_has_its_bracket_to_the_edge():
    root = ET.fromstring(drawn((line("a", ((START + 11 * HOUR_MS, 2**62),), lambda hour: hour < 11),)))
    (bracket,) = (one for one in root.iter() if one.get("data-out"))
    assert float(bracket.get("x2")) == pytest.approx(float(root.get("data-x1")), abs=0.2)


def test_a_warning_among_work_still_looks_like_a_warning():
    notes = tuple(
        Note(at=START + HOUR_MS + n, number=n, kind=NoteKind.NOTICE if n == 2 else NoteKind.WORK) for n in (1, 2, 3)
    )
    root = ET.fromstring(drawn((line("a"),), notes=notes))
    marks = [one.get("class") for one in root.iter() if str(one.get("class")).startswith("d-note-")]
    assert marks == ["d-note-notice", "d-note-text"]


def light(colour):
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (one / 12.92 if one <= 0.03928 else ((one + 0.055) / 1.055) ** 2.4 for one in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("colours", [DAY, DARK], ids=["day", "night"])
def test_the_degrees_of_heat_rise_in_contrast_against_the_earth(colours):
    # WCAG 2.2, contrast ratio; 1.4.11 asks 3 : 1 of a graphic that carries meaning.
    earth = light(colours[Colour.EARTH])
    ratios = []
    for number in range(6):
        own = light(colours[Colour(f"heat-{number}")])
        ratios.append((max(own, earth) + 0.05) / (min(own, earth) + 0.05))
    assert ratios[0] >= 3
    assert all(later > 1.2 * former for former, later in pairwise(ratios))


def test_lines_that_end_together_are_named_in_their_order_each_with_a_leader():
    hours = np.arange(0, 6 * HOUR_MS + 1, HOUR_MS, np.int64)
    levels = {"low": 58_000, "high": 60_000, "middle": 59_000}
    lines = tuple(
        Line(name=name, times=START + hours, milli=np.full(len(hours), milli), max_gap_ms=2 * HOUR_MS)
        for name, milli in levels.items()
    )
    root = ET.fromstring(drawn(lines))
    names = {one.text: float(one.get("y")) for one in root.iter() if one.text in levels}
    assert names["high"] < names["middle"] < names["low"], "as the lines stand above each other"
    assert names["middle"] - names["high"] >= 12
    leaders = [one.get("d") for one in root.iter() if one.get("class") == "d-leader"]
    assert len(leaders) == 3
    tips = [(float(one.get("cx")), float(one.get("cy"))) for one in root.iter() if one.get("class") == "d-tip"]
    assert len(tips) == 3
    for (x, y), leader in zip(
        sorted(tips, key=lambda tip: tip[1]),
        sorted(leaders, key=lambda d: float(d.split()[1].split("l")[0])),
        strict=True,
    ):
        assert leader.startswith(f"M{x:g} {y:g}l"), "each begins at the end of its own line"
