"""The label of a bag: its code can be read, its words stay on it, and no caution is cut."""

from xml.etree import ElementTree as ET

import pytest
from code_reader import text_of_code
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.drawing import BagLabel, bag_label
from monitor.drawing.bag_label import HEIGHT, UNIT_MM, WIDTH
from monitor.drawing.lettering import width_of
from monitor.page import qr_rows

SVG = "{http://www.w3.org/2000/svg}"
OPENING = (
    "Open the bag outdoors or in a well-aired place and away from the face, keep it damp, and wash your hands: compost and "
    "castings carry moulds and bacteria, at times Legionella. People with a weak immune system or lungs let others do it."
)
LABEL = BagLabel(
    "Worm castings", "lot-b1-2026-11-05", ("Tern Hollow allotments", "Made 5 Nov 2026; 20 lb in the lot"),
    "Bedding heat treated (record p1-2026-08-01); food added later was not", (OPENING, "Ask the yard."),
)  # fmt: skip
addresses = st.text("abcdefghijklmnopqrstuvwxyz0123456789-_.~%/", min_size=1, max_size=150).map(
    "http://yard.example/".__add__
)


def coded(address, **changes):
    given = {"kind": LABEL.kind, "lot": LABEL.lot, "lines": LABEL.lines, "heat": LABEL.heat, "cautions": LABEL.cautions}
    return bag_label(BagLabel(**(given | changes), code=qr_rows(address)))


def text_boxes(svg):
    for one in ET.fromstring(svg).iter(SVG + "text"):
        size = float(one.get("font-size").removesuffix("px"))
        x, y = float(one.get("x")), float(one.get("y"))
        yield one.text, x, y - size + 2, x + width_of(one.text, size), y + 2


@settings(max_examples=25)
@given(addresses)
def test_the_code_opens_its_address(address):
    assert text_of_code(coded(address)) == address


def test_the_code_has_bare_paper_around_it_and_squares_that_a_phone_can_tell_apart():
    rows = qr_rows("http://yard.example:8460/bag/" + "x" * 110)
    svg = coded("http://yard.example:8460/bag/" + "x" * 110)
    (path,) = [one.get("d") for one in ET.fromstring(svg).iter(SVG + "path")]
    side = float(path.split("v")[1].split("h")[0])
    assert side * UNIT_MM >= 0.4
    corners = [tuple(map(float, one.split("h")[0].split(" "))) for one in path.split("M")[1:]]
    left, top = (min(one[axis] for one in corners) for axis in (0, 1))
    assert top >= 4 * side
    assert left + side * (len(rows) + 4) <= WIDTH
    assert all(x1 <= left - 4 * side or y0 >= top + side * (len(rows) + 4) for _, _, y0, x1, _ in text_boxes(svg))


@given(st.lists(st.text("ab cW", max_size=60), max_size=3), st.text("abc W,", max_size=400), st.booleans())
def test_words_stay_on_the_label_and_lie_on_nothing(lines, heat, with_code):
    svg = coded("http://yard.example/x", lines=tuple(lines), heat=heat) if with_code else bag_label(
        BagLabel("Compost", "lot-" + "p1-" * 9, tuple(lines), heat, LABEL.cautions)
    )  # fmt: skip
    found = list(text_boxes(svg))
    for at, (_, left, top, right, low) in enumerate(found):
        assert left >= 0
        assert top >= 0
        assert right <= WIDTH
        assert low <= HEIGHT
        assert all(right <= x0 or x1 <= left or low <= y0 or y1 <= top for _, x0, y0, x1, y1 in found[at + 1 :])
    assert OPENING in " ".join(text for text, *_ in found), "a caution is never cut"


def test_all_that_a_label_may_have_to_say_has_room():
    """The longest words of each kind together, with the records of three heaps."""
    more = (
        OPENING,
        "Held back on 30 Nov 2026: Bean test is not in; Moisture is not in; Foreign matter is not in.",
        "By the record it may carry: herbicide, meat, plastic, wormer.",
        "Weed killer can outlast a heap: sow beans in some of it before it goes onto beds.",
        "Heat is told of the heaps that are named, until they went on; of anything added later nothing is claimed.",
        "A record of heat is evidence and no permit; what may be sold, and how it is labelled, local rules decide.",
    )
    heat = "Heat treated in part (records p1-2026-08-01, p2-2026-08-15, p3-2026-09-02); the rest was not"
    svg = coded("http://yard.example:8460/bag/" + "x" * 110, heat=heat, cautions=more)
    said = " ".join(one.text for one in ET.fromstring(svg).iter(SVG + "text"))
    assert all(words in said for words in (*more, heat))


def test_without_a_code_the_name_stands_there_in_words():
    svg = bag_label(LABEL)
    assert text_of_code(svg) is None
    said = [one.text for one in ET.fromstring(svg).iter(SVG + "text")]
    assert "".join(said).count(LABEL.lot) == 2
    assert "Tell the yard this name to" in " ".join(said)


@pytest.mark.parametrize("words", ["<script>alert(1)</script>", "a & b \"c\" 'd'", "\u202eevil"])
def test_no_word_breaks_out(words):
    root = ET.fromstring(coded("http://yard.example/x", kind=words, lines=(words,), heat=words, cautions=(words,)))
    assert {one.tag.removeprefix(SVG) for one in root.iter()} == {"svg", "title", "desc", "rect", "path", "text"}
    assert root.get("width") == "95.9mm"
