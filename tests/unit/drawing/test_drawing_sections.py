"""Sections show probes at their depths, heat only where it is known, and values against comfort; the choice is plain."""

import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from drawing_samples import bin_, pile, tried
from hypothesis import given
from hypothesis import strategies as st

from monitor.drawing import (
    BinProbe,
    Choice,
    ChoiceRole,
    Limit,
    PileProbe,
    PileShape,
    ProbeState,
    Unit,
    bin_section,
    choices,
    pile_section,
)
from monitor.drawing.heat import Level, contours, heat_at
from monitor.model.times import HOUR_MS
from monitor.model.units import Quantity
from monitor.model.words import Method

SVG = "{http://www.w3.org/2000/svg}"


def _marks(svg: str, mark: str) -> list[ET.Element]:
    return [element for element in ET.fromstring(svg).iter() if element.get("class") == mark]


def _texts(svg: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(svg).iter(SVG + "text")]


def _desc(svg: str) -> str:
    return ET.fromstring(svg).get("aria-label", "")


def _of(*probes: PileProbe, **changes: object) -> str:
    return pile_section(pile(probes=probes, **changes))


@pytest.mark.parametrize("method", [None, *Method])
def test_each_method_has_its_shape(method: Method | None):
    shape = PileShape.of(method)
    svg = pile_section(pile("A", shape))
    assert bool(_marks(svg, "d-draught")) == (method is Method.STATIC)
    assert bool(_marks(svg, "d-box")) == (method is Method.VESSEL)
    assert bool(_marks(svg, "d-soil")) == (method is not Method.VESSEL)


def test_deeper_probes_stand_lower_in_the_measure_of_the_height():
    probes = [PileProbe(name=str(d), milli_c=60_000, depth_milli_m=d) for d in (300, 600, 900)]
    tips = [float(tip.get("cy", "")) for tip in _marks(_of(*probes, height_milli_m=1500), "d-tip")]
    assert tips[1] - tips[0] == pytest.approx(tips[2] - tips[1], abs=0.2)
    ground, crest = 220 - 34, tips[0] - (tips[1] - tips[0])
    assert (tips[1] - tips[0]) / (ground - crest) == pytest.approx(300 / 1500, abs=0.01)


def test_the_scale_of_depth_is_numbered_where_the_tips_hang():
    svg = _of(
        PileProbe(name="", milli_c=60_000, depth_milli_m=610), PileProbe(name="", milli_c=50_000, depth_milli_m=102)
    )
    (deep, shallow) = (float(tip.get("cy", "")) for tip in _marks(svg, "d-tip"))
    named = {one.text: float(one.get("y", "")) - 4 for one in ET.fromstring(svg).iter(SVG + "text")}
    assert named["24"] == pytest.approx(deep, abs=0.2)
    assert named["0"] + (named["24"] - named["0"]) * 102 / 610 == pytest.approx(shallow, abs=0.4)
    assert {"24 in", "4 in", "140 °F", "122 °F", "in"} <= set(_texts(svg)), "a depth names its probe"


def test_a_probe_deeper_than_the_heap_stays_in_it():
    (tip,) = _marks(_of(PileProbe(name="A", milli_c=1, depth_milli_m=9000), height_milli_m=1000), "d-tip")
    assert float(tip.get("cy", "")) < 220 - 34


def test_depths_and_values_are_in_the_units_of_the_site():
    probe = PileProbe(name="A", milli_c=55_000, depth_milli_m=600)
    assert {"A 24 in", "131 °F"} <= set(_texts(_of(probe)))
    assert {"A 60 cm", "55 °C"} <= set(_texts(_of(probe, unit=Unit.DEGC)))


def test_each_state_looks_different_and_says_so():
    seen = set()
    for state in ProbeState:
        svg = _of(PileProbe(name="A", milli_c=60_000, depth_milli_m=600, state=state))
        classes = [element.get("class") for element in ET.fromstring(svg).iter()]
        seen.add(tuple(mark for mark in classes if mark in ("d-stem", "d-stem-lost", "d-tip", "d-tip-lost", "d-cross")))
        assert ("140 °F" in _texts(svg)) == (state is ProbeState.LIVE)
        assert (state.value in _texts(svg)) == (state is not ProbeState.LIVE)
        assert state is ProbeState.LIVE or f"A at 24 in: {state}." in _desc(svg)
    assert len(seen) == 4
    assert "silent 3 h" in _texts(_of(PileProbe(name="A", milli_c=1, state=ProbeState.SILENT, words="silent 3 h")))
    assert "no value yet" in _texts(_of(PileProbe(name="A", milli_c=None)))


def _strokes(svg: str) -> list[tuple[float, float, float]]:
    """The level strokes of heat, as (left, y, right)."""
    return [
        (float(left), float(y), float(right))
        for path in ET.fromstring(svg).iter(SVG + "path")
        if (path.get("class") or "").startswith("d-heat")
        for left, y, right in re.findall(r"M([\d.]+) ([\d.]+)H([\d.]+)", path.get("d", ""))
    ]


def _hot(*depths: int, milli_c: int = 60_000) -> list[PileProbe]:
    return [PileProbe(name=str(depth), milli_c=milli_c, depth_milli_m=depth) for depth in depths]


def test_heat_is_drawn_from_the_shallowest_to_the_deepest_probe_across_the_core_and_nowhere_else():
    svg = _of(*_hot(300, 900), height_milli_m=1500)
    high, low = sorted(float(tip.get("cy", "")) for tip in _marks(svg, "d-tip"))
    strokes = _strokes(svg)
    assert len(strokes) > 5
    assert min(y for _, y, _ in strokes) == pytest.approx(high, abs=0.2)
    assert low - 5 <= max(y for _, y, _ in strokes) <= low + 0.2
    middle = sum(left + right for left, _, right in strokes) / len(strokes) / 2
    for left, _, right in strokes:
        assert abs((left + right) / 2 - middle) < 12, "level across the core: no side is known"
    assert "left to right means nothing" in _desc(svg)


def test_heat_is_drawn_only_where_live_probes_of_known_depth_speak_for_it():
    assert not _strokes(_of(PileProbe(name="A", milli_c=60_000, depth_milli_m=500, state=ProbeState.SILENT)))
    assert not _strokes(_of(PileProbe(name="A", milli_c=60_000))), "no depth, so no level that it could speak for"
    assert len(_strokes(_of(*_hot(500)))) == 1, "a depth alone: nothing is known beside it"


def test_heat_between_two_depths_lies_between_and_beyond_them_it_is_not_known():
    levels = [Level(20, 20_000), Level(60, 60_000)]
    assert [heat_at(depth, levels) for depth in (20, 30, 40, 60)] == [20_000, 30_000, 40_000, 60_000]
    assert heat_at(19.9, levels) is None
    assert heat_at(60.1, levels) is None
    assert heat_at(40, [*levels, Level(45, None)]) is None, "a lost probe between two parts them"
    assert heat_at(40, [*levels, Level(20.4, None)]) == 40_000, "one at the same depth as a live one does not"
    assert heat_at(20, [Level(20, 60_000), Level(20.5, 40_000)]) == 40_000, "the coldest of one depth"
    assert heat_at(20, []) is None


@given(
    st.lists(st.tuples(st.integers(0, 100), st.none() | st.integers(-20_000, 90_000)), max_size=8),
    st.integers(-20_000, 90_000),
)
def test_a_contour_lies_where_the_heat_is_as_warm(found, milli_c):
    levels = [Level(float(depth), value) for depth, value in found]
    for depth in contours(levels, milli_c):
        at = heat_at(depth, levels)
        assert at is None or abs(at - milli_c) <= 1


def test_hotter_levels_are_ruled_closer_and_heavier():
    def gaps(milli_c: int) -> list[float]:
        ys = sorted(y for _, y, _ in _strokes(_of(*_hot(200, 900, milli_c=milli_c), height_milli_m=1500)))
        return [b - a for a, b in pairwise(ys)]

    assert max(gaps(66_000)) < min(gaps(20_000))


def test_the_hold_is_a_contour_with_its_name_where_the_heat_passes_it():
    probes = [*_hot(100, milli_c=40_000), *_hot(700, milli_c=70_000)]
    svg = _of(*probes, hold_milli_c=55_000, height_milli_m=1500)
    (line, *_) = _marks(svg, "d-contour")
    high, low = sorted(float(tip.get("cy", "")) for tip in _marks(svg, "d-tip"))
    assert float(line.get("y1", "")) == pytest.approx((high + low) / 2, abs=0.2)
    assert "hold 131 °F" in _texts(svg)
    assert "hold 131 °F" in _texts(_of(*probes, hold_milli_c=55_000, width=276)), (
        "below the heap, if there is no room aside"
    )
    hot = _of(*_hot(100, 700), hold_milli_c=55_000, size="")
    assert not _marks(hot, "d-contour")
    assert "all at 131 °F or more" in _texts(hot)
    cool = _of(*_hot(100, 700, milli_c=40_000), hold_milli_c=55_000)
    assert not _marks(cool, "d-contour")
    assert not any("131" in text for text in _texts(cool))


def test_a_pile_without_probes_and_one_with_many_are_drawn():
    assert "d-outline" in _of()
    many = [PileProbe(name=f"probe {n}", milli_c=40_000) for n in range(40)]
    svg = _of(*many)
    assert len(_marks(svg, "d-tip")) == 12
    assert "And 28 more probes." in _desc(svg)


def _bin(*probes: BinProbe, **changes: object) -> str:
    return bin_section(bin_(**({"probes": probes, "heat_limits": (), "damp_limits": ()} | changes)))


def _pointer(svg: str) -> float:
    (pointer,) = _marks(svg, "d-upright-pointer")
    return float((pointer.get("d", "")[1:].split("l")[0]).split()[1])


@pytest.mark.parametrize(
    ("milli", "where"), [(15_555, "below"), (15_556, "within"), (26_667, "within"), (26_668, "above")]
)
def test_heat_is_pointed_at_against_its_comfort(milli: int, where: str):
    svg = _bin(BinProbe(name="A", quantity=Quantity.TEMPERATURE, milli=milli))
    assert f", {where} comfort (15.6 °C to 26.7 °C)" in _desc(svg)
    (band,) = _marks(svg, "d-comfort")
    top, bottom = float(band.get("y", "")), float(band.get("y", "")) + float(band.get("height", ""))
    assert _pointer(svg) == pytest.approx(bottom if milli < 20_000 else top, abs=0.2)


def test_damp_is_pointed_at_in_percent():
    svg = _bin(BinProbe(name="A", quantity=Quantity.MOISTURE, milli=72_500))
    (band,) = _marks(svg, "d-comfort")
    middle = float(band.get("y", "")) + float(band.get("height", "")) / 2
    assert _pointer(svg) == pytest.approx(middle, abs=0.2)
    assert "72.5 %" in _texts(svg)
    assert "temperature, °C" not in _texts(svg)


def test_a_probe_that_does_not_report_points_at_nothing_and_says_so():
    probe = BinProbe(name="old", quantity=Quantity.MOISTURE, milli=70_000, state=ProbeState.SILENT, words="silent 5 h")
    svg = _bin(probe)
    assert not _marks(svg, "d-upright-pointer")
    assert "old: silent 5 h" in _texts(svg)
    assert "old: silent 5 h." in _desc(svg)


def test_values_far_beyond_comfort_stay_on_the_scale():
    for milli in (-40_000, 100_000):
        svg = _bin(BinProbe(name="A", quantity=Quantity.TEMPERATURE, milli=milli))
        assert 40 < _pointer(svg) < 250


_HEAT = BinProbe(name="t", quantity=Quantity.TEMPERATURE, milli=22_000)
_DAMP = BinProbe(name="m", quantity=Quantity.MOISTURE, milli=72_000)


def test_worms_are_drawn_only_where_heat_and_moisture_are_known_and_in_comfort():
    assert _marks(_bin(_HEAT, _DAMP), "d-worm")
    for probes in (
        (),
        (_HEAT,),
        (_DAMP,),
        (BinProbe(name="t", quantity=Quantity.TEMPERATURE, milli=34_000), _DAMP),
        (_HEAT, BinProbe(name="m", quantity=Quantity.MOISTURE, milli=92_000)),
        (_HEAT, BinProbe(name="m", quantity=Quantity.MOISTURE, milli=72_000, state=ProbeState.SILENT)),
    ):
        assert not _marks(_bin(*probes), "d-worm"), probes


def test_food_is_drawn_by_how_long_ago_the_bin_was_fed():
    def food(fed_ms: int | None) -> int:
        return len(_marks(_bin(_HEAT, fed_ms=fed_ms), "d-feed"))

    assert food(None) == 0, "no feeding is known"
    assert food(9 * 60_000) > food(3 * 24 * HOUR_MS) > 0
    assert food(7 * 24 * HOUR_MS) == food(11 * 24 * HOUR_MS) == 0


@pytest.mark.parametrize("width", [276, 480])
def test_the_word_bedding_lies_on_no_worm(width):
    hot = BinProbe(name="t", quantity=Quantity.TEMPERATURE, milli=34_000)
    assert "bedding" not in _texts(_bin(_HEAT, _DAMP, width=width)), "worms are drawn there"
    assert "bedding" in _texts(_bin(hot, _DAMP, width=width))


_LIMITS = (Limit(milli=4_000, label="cold"), Limit(milli=30_000, label="over"), Limit(milli=31_000, label="far over"))


@pytest.mark.parametrize("milli", [22_000, 30_000, 30_500])
@pytest.mark.parametrize("width", [276, 480])
def test_every_limit_is_named_on_its_ruler_wherever_the_value_stands(milli, width):
    probe = BinProbe(name="t", quantity=Quantity.TEMPERATURE, milli=milli)
    svg = _bin(probe, heat_limits=_LIMITS, width=width)
    assert {"cold 4", "over 30", "far over 31", "comfort"} <= set(_texts(svg))
    assert len(_marks(svg, "d-limit-mark")) == 3
    assert "Limit 30 °C: over." in _desc(svg)
    ys = sorted(
        float(one.get("y", "")) for one in ET.fromstring(svg).iter(SVG + "text") if one.get("text-anchor") == "end"
    )
    assert all(b - a > 11 for a, b in pairwise(ys) if b - a), "no name lies on another"


def test_values_stand_beside_their_pointers_or_above_a_ruler_without_room():
    pair = (_HEAT, BinProbe(name="u", quantity=Quantity.TEMPERATURE, milli=23_500), _DAMP)
    assert {"22 °C", "23.5 °C", "72 %", "t", "u"} <= set(_texts(_bin(*pair, width=480)))
    assert {"22 to 23.5 °C", "72 %"} <= set(_texts(_bin(*pair, width=276)))


def test_the_choice_stands_by_needless_messages_and_warning_time():
    points = tuple(
        Choice(needless_milli=n, warning_ms=w, caught=3, troubles=6, row="1")
        for n, w in ((0, 0), (2000, 2 * HOUR_MS), (4000, 4 * HOUR_MS))
    )
    dots = _marks(choices(tried(points=points)), "d-row-dot")
    xs, ys = ([float(dot.get(key, "")) for dot in dots] for key in ("cx", "cy"))
    assert xs[1] - xs[0] == pytest.approx(xs[2] - xs[1], abs=0.2)
    assert ys[0] - ys[1] == pytest.approx(ys[1] - ys[2], abs=0.2)
    assert ys[2] < ys[0]


def test_todays_and_the_chosen_set_are_named_and_told():
    points = (
        Choice(needless_milli=9000, warning_ms=HOUR_MS, caught=4, troubles=6, role=ChoiceRole.TODAY),
        Choice(
            needless_milli=1000,
            warning_ms=4 * HOUR_MS,
            caught=6,
            troubles=6,
            role=ChoiceRole.CHOSEN,
            row="1",
            label="82.5 °F",
        ),
        Choice(needless_milli=500, warning_ms=None, caught=0, troubles=6),
    )
    svg = choices(tried(points=points, per="month"))
    assert {"today's", "1: 82.5 °F", "none"} <= set(_texts(svg))
    assert "The best where it was chosen: caught 6 of 6, 4 h before, 1 needless message a month." in _desc(svg)


@pytest.mark.parametrize("width", [360, 720])
def test_a_thousand_tried_sets_draw_small(width: int):
    points = tuple(
        Choice(needless_milli=n * 7919 % 20_000, warning_ms=n * 104_729 % (9 * HOUR_MS), caught=n % 7, troubles=6)
        for n in range(1000)
    )
    assert len(choices(tried(points=points, width=width))) < 60_000


def test_a_choice_with_nothing_tried_is_drawn():
    assert "0 other settings were tried." in _desc(choices(tried(points=())))
