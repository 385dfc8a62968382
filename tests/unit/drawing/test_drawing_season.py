"""Heaps beside each other by days since they were built, and a bin's year: one frame for all, and gaps stay gaps."""

import re
from datetime import date, timedelta

import pytest
from drawing_samples import bin_band, course
from hypothesis import given
from hypothesis import strategies as st
from test_drawing_harmless import check

from monitor.drawing import Mark, Unit, course_frame, course_plot, year_band, year_scale
from monitor.drawing.lettering import width_of


def drawn(one, *beside, unit=Unit.DEGC):
    return course_plot(one, course_frame([one, *beside], unit))


def marks(svg, mark):
    return re.findall(rf'<(\w+) class="{mark.value}"([^>]*)/?>', svg)


def path(svg, mark):
    (found,) = marks(svg, mark)
    return re.search(r' d="([^"]*)"', found[1])[1]


def letters(svg, word):
    return [float(x) for x in re.findall(rf'<text [^>]*x="([^"]+)"[^>]*>{re.escape(word)}</text>', svg)]


def test_a_day_and_a_degree_lie_at_the_same_place_in_all_plots():
    short = course(
        days=5.0, over=False, steps=[(1.0, 20_000, 22_000)], rounds=(), holds=(), turned=(4.0,), watered=(), added=()
    )
    frame = course_frame([short, course()], Unit.DEGC)
    one, other = (course_plot(each, frame) for each in (short, course()))
    assert letters(one, "t")[0] == letters(other, "t")[0], "the turning on day 4"
    assert letters(one, "14") == letters(other, "14")
    rule = [
        re.search(r'y1="([^"]+)"', attributes)[1]
        for svg in (one, other)
        for _, attributes in marks(svg, Mark.HOLD_LINE)
    ]
    assert rule[0] == rule[1]


def test_the_axis_has_whole_weeks_and_ends_a_while_after_the_last_hot_time():
    assert course_frame([course()], Unit.DEGC).days == 35, "hot until day 24, and ten days more"
    assert course_frame([course(holds=())], Unit.DEGC).days == 42, "all that was read, if it was never hot"
    assert course_frame([course(holds=[(3.0, 200.0)], steps=[(199.0, 1, 2)])], Unit.DEGC).days == 84
    assert course_frame([], Unit.DEGC).days == 21


def test_a_line_that_goes_on_beyond_the_axis_ends_in_an_arrow():
    assert len(marks(drawn(course()), Mark.MIX_ARROW)) == 1
    assert marks(drawn(course(holds=())), Mark.MIX_ARROW) == []


def test_a_pause_is_a_gap():
    svg = drawn(course())
    assert len(marks(svg, Mark.COURSE_LINE)) == 2, "before and after the silent day"
    whole = [(day / 8, 50_000, 51_000) for day in range(1, 320)]
    assert len(marks(drawn(course(steps=whole)), Mark.COURSE_LINE)) == 1


def test_readings_by_hand_are_rings_and_the_line_between_is_dashed():
    svg = drawn(course(steps=()))
    assert len(marks(svg, Mark.HAND_RING)) == 3
    assert path(svg, Mark.HAND).startswith("M")
    assert marks(svg, Mark.COURSE_LINE) == []
    assert marks(drawn(course(steps=(), rounds=())), Mark.HAND_RING) == []


def test_letters_that_would_touch_become_dots_and_each_kind_has_its_row():
    svg = drawn(course())
    assert len(letters(svg, "t")) == 2, "two of three turnings: the second comes two hours after the first"
    assert (len(letters(svg, "w")), len(letters(svg, "+"))) == (1, 1)
    assert len(marks(svg, Mark.PLAN_READ)) == 1


def test_a_heap_that_is_gone_ends_in_a_line_and_another_in_a_dot():
    gone, here = drawn(course(holds=(), days=39.0)), drawn(course(over=False, holds=()))
    assert len(marks(gone, Mark.AXIS)) == len(marks(here, Mark.AXIS)) + 1
    assert (marks(gone, Mark.TIP), len(marks(here, Mark.TIP))) == ([], 1)


def test_the_hold_bears_its_words_and_nothing_is_written_where_there_was_none():
    assert "at 131 °F: 20 days" in drawn(course(held="at 131 °F: 20 days"))
    assert "at 131 °F: 20 days" not in drawn(course(held="at 131 °F: 20 days", holds=(), title="", words=""))


def test_many_short_holds_stay_few_bytes():
    holds = [(day / 100, day / 100 + 0.004) for day in range(2_000)]
    assert len(drawn(course(holds=holds))) < 12_000


@given(
    st.lists(st.tuples(st.floats(0, 400), st.integers(-40_000, 90_000), st.integers(0, 9_000)), max_size=60),
    st.lists(st.floats(0, 400), max_size=30),
)
def test_any_heap_can_be_drawn_and_stays_within_its_sheet(read, turned):
    steps = [(day, low, low + more) for day, low, more in sorted(read)]
    one = course(steps=steps, rounds=steps[:3], turned=sorted(turned), days=400.0)
    root = check(drawn(one, course()))
    assert len(drawn(one)) < 25_000
    for circle in root.iter("{http://www.w3.org/2000/svg}circle"):
        assert 0 <= float(circle.get("cx")) <= 276


def banded(one, width=460, *beside):
    return year_band(one, year_scale([one, *beside], Unit.DEGC), width)


def test_days_without_a_reading_are_blank():
    heat, damp = (re.search(r' d="([^"]*)"', one)[1] for _, one in marks(banded(bin_band()), Mark.YEAR_BAND))
    assert (heat.count("Z"), damp.count("Z")) == (2, 2), "before and after the week without readings"
    assert marks(banded(bin_band(heat={}, damp={}, hot_days=(), frost_days=())), Mark.YEAR_BAND) == []


def test_each_run_of_days_past_a_limit_has_a_stroke_and_a_tick():
    svg = banded(bin_band())
    assert path(svg, Mark.YEAR_HOT).count("Z") == 2
    assert path(svg, Mark.YEAR_COLD).count("Z") == 2
    calm = bin_band(hot_days=(), frost_days=())
    assert marks(banded(calm), Mark.YEAR_HOT) == []


def test_a_limit_against_frost_far_from_all_readings_is_not_drawn():
    mild = {date(2026, 5, 1) + timedelta(days=number): (18_000, 20_000) for number in range(20)}
    svg = banded(bin_band(heat=mild, hot_days=(), frost_days=()))
    assert len(marks(svg, Mark.LIMIT)) == 1
    assert len(marks(banded(bin_band()), Mark.LIMIT)) == 2


def test_bins_beside_each_other_share_their_rows_and_their_scale():
    dry = bin_band(damp={}, taken=())
    scale = year_scale([dry, bin_band()], Unit.DEGC)
    one, other = (year_band(each, scale, 460) for each in (dry, bin_band()))
    size = re.compile(r'viewBox="([^"]+)"')
    assert size.search(one)[1] == size.search(other)[1]
    alone = year_band(dry, year_scale([dry], Unit.DEGC), 460)
    assert size.search(alone)[1] != size.search(other)[1], "rows that nobody needs are left out"


@pytest.mark.parametrize(("width", "may"), [(460, "May"), (276, "M")])
def test_months_are_named_as_far_as_there_is_room(width, may):
    assert letters(banded(bin_band(), width), may)


def test_a_whole_year_takes_few_bytes():
    days = [date(2026, 1, 1) + timedelta(days=number) for number in range(365)]
    heat = {day: (number * 7_919 % 9_000, 20_000 + number * 104_729 % 15_000) for number, day in enumerate(days)}
    hot = [day for day, (_, high) in heat.items() if high >= 29_400]
    svg = banded(bin_band(heat=heat, hot_days=hot, frost_days=(), damp=heat), 276)
    assert len(hot) > 80
    assert len(svg) < 14_000


@pytest.mark.parametrize("day", [date(2026, 1, 1), date(2026, 6, 15), date(2026, 12, 28)])
def test_the_amount_of_a_harvest_stands_beside_its_diamond_and_off_the_row_s_name(day):
    svg = banded(bin_band(taken=[(day, "20 kg")]), 276)
    (x,), (name,) = letters(svg, "20 kg"), letters(svg, "harvest")
    assert x >= 32
    assert x + width_of("20 kg", 12) <= name
    both = banded(bin_band(taken=[(day, "20 kg"), (day, "30 kg")]), 276)
    assert len(marks(both, Mark.HARVEST)) == 2
    assert len(letters(both, "20 kg")) + len(letters(both, "30 kg")) <= 2
