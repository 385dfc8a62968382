"""A mix among its limits: further right is wetter, higher is woodier, and what lies beyond the frame is pointed at."""

import re
from math import log
from xml.etree import ElementTree as ET

import pytest
from drawing_samples import mixed
from hypothesis import given
from hypothesis import strategies as st

from monitor.drawing import MixMaterial, Spread, Stretch, mix_picture
from monitor.drawing.lettering import width_of
from monitor.drawing.mix_position import position_words, say_mix

SVG = "{http://www.w3.org/2000/svg}"


def root_of(**changes):
    return ET.fromstring(mix_picture(mixed(**changes)))


def marked(root, mark):
    return [element for element in root.iter() if element.get("class") == mark]


def dot(**changes):
    """Return the middle of the mix's dot; the key has no dot."""
    (found,) = marked(root_of(**changes), "d-tip")
    return float(found.get("cx")), float(found.get("cy"))


def corners(root, mark):
    """Return (left, top, right, bottom) of the area drawn with a mark; the last is that of the key."""
    data = marked(root, mark)[0].get("d")
    left, top, right, bottom = map(float, re.fullmatch(r"M(\S+) (\S+)H(\S+)V(\S+)H\S+Z", data).groups())
    return left, top, right, bottom


def text_boxes(root):
    for one in root.iter(SVG + "text"):
        size = {"d-small": 11, "d-text": 12, "d-strong": 13}[one.get("class")]
        wide = width_of(one.text, size)
        left = float(one.get("x")) - {"middle": wide / 2, "end": wide}.get(one.get("text-anchor"), 0)
        yield one.text, left, left + wide, float(one.get("y")) - size, float(one.get("y"))


# Nearer to an end what is shown widens.
moistures = st.floats(25.1, 79.9)
ratios = st.floats(12.1, 99)


@given(moistures, moistures, ratios)
def test_a_wetter_mix_lies_further_right_at_the_same_height(one, other, cn):
    (x1, y1), (x2, y2) = (dot(moisture=Spread(wet, wet, wet), cn=Spread(cn, cn, cn)) for wet in (one, other))
    assert y1 == y2
    assert (x2 - x1) == pytest.approx((other - one) * (360 - 4 - 34) / 65, abs=0.11)


@given(ratios, ratios)
def test_twice_the_ratio_is_always_as_much_higher(one, other):
    (x1, y1), (x2, y2) = (dot(cn=Spread(cn, cn, cn)) for cn in (one, other))
    assert x1 == x2
    # 276.9 units for the 12-fold from 10 to 120.
    assert (y1 - y2) == pytest.approx(log(other / one) / log(12) * 322 * 0.86, abs=0.11)


def test_the_limits_lie_where_their_values_do():
    root = root_of()

    # The frame is 322 units wide from x = 34 and shows 20 to 85 %; 276.9 high from y = 40 and shows C/N 10 to 120.
    def x(value):
        return pytest.approx(34 + (value - 20) / 65 * 322, abs=0.06)

    def y(value):
        return pytest.approx(40 + 276.92 * log(120 / value) / log(12), abs=0.06)

    assert corners(root, "d-mix-must") == (x(40), y(40), x(65), y(20))
    assert corners(root, "d-mix-best") == (x(50), y(35), x(60), y(25))


def test_the_axes_are_numbered_where_their_values_lie():
    texts = [(one.text, float(one.get("x")), float(one.get("y"))) for one in root_of(materials=()).iter(SVG + "text")]
    ratios = {text: y for text, x, y in texts if x == 28}
    assert list(ratios) == ["10", "15", "20", "30", "40", "60", "80", "120"]
    for text, y in ratios.items():
        assert y == pytest.approx(44 + 276.92 * log(120 / float(text)) / log(12), abs=0.06)
    moistures = {text: x for text, x, y in texts if y == pytest.approx(332.9, abs=0.06)}
    assert list(moistures) == ["20", "30", "40", "50", "60", "70", "80"]
    for text, x in moistures.items():
        assert x == pytest.approx(34 + (float(text) - 20) / 65 * 322, abs=0.06)
    far = root_of(cn=Spread(300, 400, 600), cn_must=Stretch(2, 700))
    shown = [one.text for one in far.iter(SVG + "text") if one.get("x") == "28"]
    assert shown == ["2", "3", "5", "10", "15", "30", "60", "120", "200", "300", "500", "1000"], (
        "those that would touch are left out"
    )


def test_the_head_says_where_the_mix_lies():
    heads = [one.text for one in root_of().iter(SVG + "text") if one.get("class") == "d-strong"]
    assert heads == ["At its best", "the mix"]


def test_limits_of_ones_own_widen_what_is_shown():
    root = root_of(moisture_must=Stretch(20, 85), cn_must=Stretch(80, 120), cn_best=Stretch(80, 120))
    left, top, right, bottom = corners(root, "d-mix-must")
    assert 34 < left < right < 356, "room for the words at both sides"
    assert 40 < top < bottom


def test_the_cross_reaches_as_far_as_the_ranges():
    root = root_of(moisture=Spread(45, 56, 62), cn=Spread(22, 31, 44))
    (cross,) = marked(root, "d-mix-range")
    ends = [tuple(map(float, one)) for one in re.findall(r"M(\S+) (\S+)L(\S+) (\S+?)(?=M|$)", cross.get("d"))]
    across, up = ends[0], ends[3]
    assert across[0] == pytest.approx(34 + 25 / 65 * 322, abs=0.06)
    assert across[2] == pytest.approx(34 + 42 / 65 * 322, abs=0.06)
    assert across[1] == across[3] == dot(moisture=Spread(45, 56, 62), cn=Spread(22, 31, 44))[1]
    assert up[1] < across[1] < up[3]


@pytest.mark.parametrize(
    ("moisture", "cn", "points"),
    [(8, 60, "left"), (90, 60, "right"), (50, 560, "up"), (50, None, "up"), (50, 4, "down"), (8, 560, "corner"), (50, 30, "")],
)  # fmt: skip
def test_a_material_beyond_the_frame_is_pointed_at(moisture, cn, points):
    root = root_of(materials=(MixMaterial(name="straw", moisture=moisture, cn=cn),))
    arrows = marked(root, "d-mix-arrow")
    assert bool(arrows) == bool(points)
    if points:
        x1, y1, x2, y2 = map(float, re.match(r"M(\S+) (\S+)L(\S+) (\S+?)M", arrows[0].get("d")).groups())
        right, down = (x2 > x1) - (x2 < x1), (y2 > y1) - (y2 < y1)
        ways = {"left": (-1, 0), "right": (1, 0), "up": (0, -1), "down": (0, 1), "corner": (-1, -1)}
        assert (right, down) == ways[points]
        assert 34 <= x2 <= 356


def test_the_four_words_stand_at_the_four_sides():
    root = root_of(materials=())
    at = {words: (left, right, top, bottom) for words, left, right, top, bottom in text_boxes(root)}
    left, top, right, bottom = corners(root, "d-mix-must")
    assert at["too dry"][1] < left
    assert at["too wet"][0] > right
    assert at["too woody"][3] < top
    assert at["too rich in nitrogen"][2] > bottom


figures = st.tuples(st.floats(0, 100), st.floats(1, 1000) | st.none(), st.booleans(), st.text(max_size=30))


@given(
    st.lists(figures, max_size=20),
    st.lists(st.floats(0, 100), min_size=3, max_size=3).map(sorted),
    st.lists(st.floats(0.5, 3000), min_size=3, max_size=3).map(sorted) | st.none(),
    st.sampled_from([276, 360, 460]),
)
def test_nothing_is_drawn_outside_the_sheet(materials, moisture, cn, width):
    root = root_of(
        materials=tuple(MixMaterial(name=name, moisture=wet, cn=cn, taken=taken) for wet, cn, taken, name in materials),
        moisture=Spread(*moisture), cn=None if cn is None else Spread(*cn), width=width,
    )  # fmt: skip
    height = float(root.get("height"))
    for words, left, right, top, bottom in text_boxes(root):
        assert -0.1 <= left <= right <= width + 0.6, words
        assert 0 <= top <= bottom <= height, words
    for one in (*marked(root, "d-mix-range"), *marked(root, "d-mix-must"), *marked(root, "d-mix-best")):
        for x in re.findall(r"[MLH](-?[\d.]+)", one.get("d")):
            assert 0 <= float(x) <= width
    for one in (*marked(root, "d-tip"), *marked(root, "d-mix-arrow")):
        x, y = (
            (one.get("cx"), one.get("cy"))
            if one.get("d") is None
            else re.match(r"M(\S+) (\S+)L", one.get("d")).groups()
        )
        assert 0 <= float(x) <= width
        assert 30 <= float(y) <= height - 60


def test_what_is_in_and_what_was_left_out_differ_in_form_and_the_key_says_so():
    root = root_of()
    assert len(marked(root, "d-mix-taken")) == 3 + 1
    assert len(marked(root, "d-mix-left-out")) == 1 + 1
    texts = [one.text for one in root.iter(SVG + "text")]
    assert {"best", "must lie within", "a material of it", "left out"} <= set(texts)
    bare = [one.text for one in root_of(materials=()).iter(SVG + "text")]
    assert "left out" not in bare


@pytest.mark.parametrize(
    ("moisture", "cn", "said"),
    [
        (56, 30, "at its best"), (62, 30, "a little wet, though it will do"),
        (45, 22, "a little dry and a little rich in nitrogen, though it will do"),
        (70, 30, "too wet"), (30, 60, "too dry and too woody"), (55, 12, "too rich in nitrogen"),
        (60.04, 35.04, "at its best"), (55, None, "without nitrogen, so it does not heat"),
    ],
)  # fmt: skip
def test_where_it_lies_in_words(moisture, cn, said):
    spread = None if cn is None else Spread(cn, cn, cn)
    picture = mixed(moisture=Spread(moisture, moisture, moisture), cn=spread)
    assert position_words(picture) == said


def test_those_who_see_no_picture_are_told_all_of_it():
    assert say_mix(mixed("leaves", materials=mixed("leaves").materials[:3])) == (
        "The mix has a moisture of 56 % (48 to 63) and C/N 31 (24 to 42): at its best. Best is a moisture of 50 to 60 % and "
        "a C/N of 25 to 35; it must lie within 40 to 65 % and 20 to 40. The picture has too dry on the left, too wet on the "
        "right, too rich in nitrogen below and too woody above. Of its materials: leaves, 72 % and C/N 30; leaves, 38 % and "
        "C/N 54. Left out: leaves, 8 % and C/N 563."
    )
