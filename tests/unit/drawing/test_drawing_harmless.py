"""Whatever stands in a name, a picture is well-formed, harmless, and takes no more than it may."""

import itertools
import re
from xml.etree import ElementTree as ET

import pytest
from drawing_samples import PICTURES
from hypothesis import example, given, settings
from hypothesis import strategies as st

from monitor.drawing import Ink, Mark, inline, stylesheet
from monitor.drawing.lettering import clean, shorten, spread, width_of
from monitor.drawing.svg_sheet import FONT_SIZE
from monitor.drawing.tokens import DARK, DAY, Colour

SVG = "{http://www.w3.org/2000/svg}"
ALLOWED = {"svg", "title", "desc", "rect", "path", "line", "circle", "text", "g"}
HOSTILE = (
    "</text><script>alert(1)</script>",
    "\"' onload=x style='fill:red' <style>*{}</style> javascript:alert(1) <![CDATA[ & ]]> &#0; %s",
    "class=\"d-hold\" xlink:href='http://example.invalid/x'",
    "\x00\x01\x0b\x1f\x7f\ufffe\uffff\ud800 \u202etfel ot thgir\u2066 \u05e2\u05e8\u05de\u05d4",
    "W" * 100_000,
    "a" + "\u0301" * 5000,
    "堆肥" * 50,
    "",
)


def check(svg: str) -> ET.Element:
    """Return the picture's root after all that must hold of any picture."""
    svg.encode()  # no lone surrogates
    root = ET.fromstring(svg)
    assert root.tag == SVG + "svg"
    for element in root.iter():
        assert element.tag.removeprefix(SVG) in ALLOWED
        for name in element.attrib:
            assert not name.lower().startswith("on")
            assert name not in {"style", "href", "id", "src"}
            assert "}" not in name
    outside_text = re.sub(r">[^<]*<", "><", re.sub(r'"[^"]*"', '""', svg))
    for forbidden in ("style", "script", "javascript:", "url(", "href", "<!", "<?", "&"):
        assert forbidden not in outside_text
    return root


@pytest.mark.parametrize("ink", Ink)
@pytest.mark.parametrize("picture", PICTURES)
@pytest.mark.parametrize("words", HOSTILE, ids=range(len(HOSTILE)))
def test_hostile_words_do_no_harm(picture: str, words: str, ink: Ink):
    svg = PICTURES[picture](words, ink)
    check(svg)
    assert len(svg) < 60_000


@pytest.mark.parametrize("picture", PICTURES)
@given(words=st.text(alphabet=st.characters(), max_size=60))
@settings(max_examples=15)
@example(words='"><g class="')
def test_any_words_do_no_harm(picture: str, words: str):
    check(PICTURES[picture](words, Ink.SCREEN))
    check(PICTURES[picture](words, Ink.PRINT))


@pytest.mark.parametrize("picture", PICTURES)
def test_a_picture_is_the_same_each_time_and_says_what_it_shows(picture: str):
    svg = PICTURES[picture]("Bay 1", Ink.SCREEN)
    assert svg == PICTURES[picture]("Bay 1", Ink.SCREEN)
    root = check(svg)
    assert root.get("role") == "img"
    # On paper a typesetter takes title and description; on a screen the label says the same, so it stands once.
    printed = check(PICTURES[picture]("Bay 1", Ink.PRINT))
    title, desc = printed.find(SVG + "title"), printed.find(SVG + "desc")
    assert title is not None
    assert title.text == "Bay 1"
    assert desc is not None
    assert len(desc.text or "") > 20
    assert root.get("aria-label") == f"Bay 1. {desc.text}"
    assert (root.find(SVG + "title"), root.find(SVG + "desc")) == (None, None)


@pytest.mark.parametrize("picture", PICTURES)
def test_the_screen_form_has_class_names_only_and_the_print_form_none(picture: str):
    screen, printed = (PICTURES[picture]("A", ink) for ink in Ink)
    root = check(screen)
    assert {element.get("class") for element in root.iter()} - {None} <= set(Mark)
    coloured = {"fill", "stroke", "font-size", "stroke-width", "font-family", "opacity"}
    assert not [name for element in root.iter() for name in element.attrib if name in coloured]
    assert 'class="' not in printed
    assert "#" in printed
    assert inline(screen, Ink.PRINT) == re.sub("<title>.*?</title>(<desc>.*?</desc>)?", "", printed)
    assert inline(printed, Ink.PRINT) == printed
    assert inline(screen, Ink.SCREEN) == screen


@pytest.mark.parametrize("picture", PICTURES)
def test_numbers_are_rounded_to_a_tenth(picture: str):
    for element in check(PICTURES[picture]("A", Ink.SCREEN)).iter():
        for name in ("d", "x", "y", "x1", "y1", "x2", "y2", "cx", "cy", "r", "width", "height", "points"):
            assert not re.search(r"\.\d\d|e-?\d|nan|inf", element.get(name, ""))


def test_every_mark_has_a_meaning_and_a_rule_in_the_stylesheet():
    css = stylesheet()
    for mark in Mark:
        assert mark.meaning.words
        assert f".{mark}{{" in css
    for colour in Colour:
        # By day and at night; and the paper is white in print.
        assert css.count(f"--{colour}:") == (3 if colour is Colour.PAPER else 2)
    assert "url(" not in css
    assert "@import" not in css


def test_the_sizes_that_are_reckoned_with_are_those_of_the_ink():
    for mark, size in FONT_SIZE.items():
        assert mark.meaning.attributes["font-size"] == f"{size}px"


def _light(colour: str) -> float:
    parts = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _contrast(one: str, other: str) -> float:
    low, high = sorted((_light(one), _light(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("colours", [DAY, DARK], ids=["day", "dark"])
def test_words_and_lines_stand_out_from_what_is_behind_them(colours: dict[Colour, str]):
    # WCAG 2.2, 1.4.3: text 4.5 to 1; 1.4.11: graphics that carry meaning 3 to 1.
    behind = (Colour.PAPER, Colour.HOLD, Colour.COMFORT, Colour.EARTH, Colour.WASH_WARM, Colour.WASH_COOL)
    for text in (Colour.INK, Colour.SOFT):
        assert [_contrast(colours[text], colours[ground]) >= 4.5 for ground in behind] == [True] * len(behind)
    for stroke in (Colour.WARM, Colour.COOL, Colour.LEAF):
        assert _contrast(colours[stroke], colours[Colour.PAPER]) >= 4.5
    for stroke in (Colour.HATCH,):
        assert _contrast(colours[stroke], colours[Colour.PAPER]) >= 3


@given(st.text(alphabet=st.characters(), max_size=300), st.floats(0, 300), st.floats(6, 20))
def test_shortened_words_fit(text: str, width: float, size: float):
    short = shorten(text, width, size)
    assert width_of(short, size) <= width + 1e-6
    assert clean(short) == short


@given(st.text(alphabet=st.characters(), max_size=900))
def test_cleaning_is_done_once(text: str):
    cleaned = clean(text)
    assert clean(cleaned) == cleaned
    assert len(cleaned) <= 400
    assert not set(cleaned) & set("\n\r\t\x00\u202e\u2066\ufeff")


@given(st.lists(st.floats(-50, 250), max_size=12), st.floats(1, 30))
def test_spread_labels_keep_their_distance_their_order_and_the_edges(wanted: list[float], gap: float):
    placed = spread(wanted, gap, 0, 200)
    assert all(-1e-6 <= place <= 200 + 1e-6 for place in placed)
    order = sorted(range(len(wanted)), key=lambda n: (wanted[n], n))
    least = min(gap, 200 / (len(wanted) - 1)) if len(wanted) > 1 else gap
    for one, other in itertools.pairwise(order):
        assert placed[other] - placed[one] >= least - 1e-6


def test_labels_with_room_stay_where_they_are_wanted():
    assert spread([10, 50, 120], 13, 0, 200) == [10, 50, 120]
    assert spread([50, 52], 10, 0, 200) == [46, 56]
