"""An empty slip fits the paper, has a column for all that is written down, and bears what the hand must heed."""

import re
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.drawing import LogSlip, log_slip
from monitor.drawing.lettering import width_of
from monitor.drawing.log_slip import HEIGHT, LINES, UNIT_MM, WIDTH

SVG = "{http://www.w3.org/2000/svg}"


def drawn(**changes):
    given = {"site": "Tern Hollow", "place": "Bay 1", "is_bin": False, "unit": "°F", "caution": "Gloves on."}
    return log_slip(LogSlip(**(given | changes)))


def texts(svg):
    return [one.text for one in ET.fromstring(svg).iter(SVG + "text")]


def test_it_fits_a4_and_letter():
    # ISO 216 and ANSI Y14.1: the narrower of 210 and 215.9 mm, the lower of 297 and 279.4 mm, less the page's margins.
    assert WIDTH * UNIT_MM <= 210 - 2 * 12.5
    assert HEIGHT * UNIT_MM <= 279.4 - 2 * 15
    assert ET.fromstring(drawn()).get("width") == "184.8mm"


def test_a_heap_is_read_at_its_depths_or_at_three_to_fill_in():
    assert {"24 in", "18 in", "Turned", "Water", "Date", "Who", "Seen, and done", "Gloves on."} <= set(
        texts(drawn(depths=("24 in", "18 in")))
    )
    assert texts(drawn()).count("at ____") == 3


def test_a_bin_has_what_is_done_to_worms_and_no_turning():
    said = texts(drawn(is_bin=True))
    assert {"Fed", "Temperature", "Squeeze"} <= set(said)
    assert "Turned" not in said


def test_it_has_lines_to_write_on_a_finger_apart():
    (grid,) = [one.get("d") for one in ET.fromstring(drawn()).iter(SVG + "path")]
    levels = sorted({float(y) for x, y in re.findall(r"M(0) ([\d.]+)L", grid)})
    assert len(levels) == LINES + 2, "the head's upper edge, and each line's"
    assert (levels[-1] - levels[-2]) * UNIT_MM >= 8.5, "mm for a pencil"


@given(st.text(max_size=200), st.lists(st.text(max_size=40), max_size=8), st.text(max_size=400), st.booleans())
def test_no_word_runs_off_it(place, depths, caution, is_bin):
    svg = drawn(place=place, depths=tuple(depths), caution=caution, is_bin=is_bin, address="http://" + place)
    for one in ET.fromstring(svg).iter(SVG + "text"):
        size = float(one.get("font-size").removesuffix("px"))
        wide = width_of(one.text, size)
        left = float(one.get("x")) - (wide if one.get("text-anchor") == "end" else 0)
        assert left >= 0
        assert left + wide <= WIDTH + 0.1
        assert float(one.get("y")) < HEIGHT


@pytest.mark.parametrize("word", ["<script>", "\u202eevil"])
def test_no_word_breaks_out(word):
    root = ET.fromstring(drawn(place=word, site=word, caution=word, depths=(word,)))
    assert {one.tag.removeprefix(SVG) for one in root.iter()} == {"svg", "title", "desc", "rect", "path", "text"}
