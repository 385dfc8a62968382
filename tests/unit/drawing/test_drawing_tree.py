"""A tree of material: every box has a place of its own, and what is not drawn is counted."""

import re
from xml.etree import ElementTree as ET

import pytest
from drawing_samples import grown
from hypothesis import given
from hypothesis import strategies as st

from monitor.drawing import TreeBox, TreeKind, tree_picture
from monitor.drawing.lettering import width_of, wrapped
from monitor.drawing.tree_picture import MOST, say_tree

SVG = "{http://www.w3.org/2000/svg}"
SIZES = {"d-small": 11, "d-text": 12}
BOXES, LINES = ("d-tree-box", "d-tree-maybe-box"), ("d-tree-line", "d-tree-maybe-line")

words = st.text("abc 1Wm-é", max_size=90)
leaves = st.builds(TreeBox, st.sampled_from(TreeKind), words, words, st.booleans(), st.just(()), st.booleans())
trees = st.recursive(
    leaves,
    lambda below: st.builds(
        TreeBox, st.sampled_from(TreeKind), words, words, st.booleans(), st.lists(below, max_size=6).map(tuple)
    ),
    max_leaves=70,
)


def numbers(path):
    return [float(one) for one in re.findall(r"-?[0-9.]+", path)]


def extent(element):
    """Return (left, top, right, bottom) of a box's outline; its inner strokes are no outline."""
    if element.tag == SVG + "rect":
        x, y, wide, high = (float(element.get(name)) for name in ("x", "y", "width", "height"))
        return x, y, x + wide, y + high
    data = element.get("d")
    if not data.endswith("Z"):
        return None
    xs, ys = [], []
    for command, rest in re.findall(r"([MLHV])([^MLHVZ]*)", data):
        found = numbers(rest)
        xs += found[:1] if command in "MLH" else []
        ys += found[1:] if command in "ML" else found if command == "V" else []
    return min(xs), min(ys), max(xs), max(ys)


def outlines(root):
    found = [extent(one) for one in root if one.get("class") in BOXES]
    kept = [one for one in found if one is not None]
    # The inner outline of a lot lies within its outer one.
    return [one for one in kept if not any(_within(one, other) for other in kept if other != one)]


def _within(one, other):
    return one[0] >= other[0] and one[1] >= other[1] and one[2] <= other[2] and one[3] <= other[3]


def strokes(root):
    """Yield (x1, y1, x2, y2) of each stroke of the lines between boxes."""
    for one in root:
        if one.get("class") in LINES and one.tag == SVG + "path":
            x1, y1, x2, y2, x3 = numbers(one.get("d"))
            yield x1, y1, x2, y2
            yield x2, y2, x3, y2


def text_boxes(root):
    for one in root.iter(SVG + "text"):
        x, y, size = float(one.get("x")), float(one.get("y")), SIZES[one.get("class")]
        yield x, y - size + 2, x + width_of(one.text, size), y + 2


def apart(one, other):
    return one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]


@given(trees, st.sampled_from([276, 340, 640, 1200]))
def test_nothing_overlaps_and_nothing_leaves_the_frame(tree, width):
    root = ET.fromstring(tree_picture(tree, width))
    boxes, texts = outlines(root), list(text_boxes(root))
    high = float(root.get("height"))
    assert 1 <= len(boxes) <= MOST
    for at, box in enumerate(boxes):
        assert box[0] >= 0
        assert box[1] >= 0
        assert box[2] <= width
        assert box[3] <= high
        assert box[2] - box[0] >= 140, "room for words"
        assert all(apart(box, other) for other in boxes[at + 1 :])
    for at, text in enumerate(texts):
        assert 0 <= text[0] < text[2] <= width + 0.1
        assert text[3] <= high
        assert all(apart(text, other) for other in texts[at + 1 :])
        assert all(apart(text, box) or _within(text, box) for box in boxes)
    for x1, y1, x2, y2 in strokes(root):
        for left, top, right, low in boxes:
            crosses = (
                min(x1, x2) < right - 0.2
                and max(x1, x2) > left + 0.2
                and min(y1, y2) < low - 0.2
                and max(y1, y2) > top + 0.2
            )
            assert not crosses


@given(trees)
def test_it_is_the_same_each_time(tree):
    assert tree_picture(tree, 340) == tree_picture(tree, 340)


def test_what_may_be_in_it_is_dashed_and_says_so():
    root = ET.fromstring(tree_picture(grown("leaves")))
    marks = [one.get("class") for one in root if one.get("class") in LINES]
    assert marks.count("d-tree-line") == 3 + 1, "to the harvest, the bed and the certain heap, and one in the key"
    assert marks.count("d-tree-maybe-line") == 4 + 1
    said = [one.text for one in root.iter(SVG + "text")]
    assert said.count("may be in it; leaves") == 4
    assert "its parts stand at its other box" in said


@pytest.mark.parametrize(
    ("count", "words"),
    [(39, None), (40, "1 more is not drawn: 1 material."), (90, "51 more are not drawn: 51 materials.")],
)
def test_what_is_not_drawn_is_counted(count, words):
    tree = TreeBox(TreeKind.LOT, "lot-1", parts=tuple(TreeBox(TreeKind.CAME_IN, f"d{n}") for n in range(count)))
    root = ET.fromstring(tree_picture(tree))
    assert len(outlines(root)) == min(MOST, count + 1)
    (said,) = [one.text for one in root.iter(SVG + "text") if "not drawn" in one.text] or [None]
    assert said == (words and f"{words} The list names all.")


def test_a_long_chain_is_drawn_as_far_as_it_fits():
    tree = TreeBox(TreeKind.CAME_IN, "d1")
    for n in range(2_000):
        tree = TreeBox(TreeKind.HEAP, f"p{n}", parts=(tree,))
    root = ET.fromstring(tree_picture(tree, 340))
    assert len(outlines(root)) == MOST
    said = " ".join(one.text for one in root.iter(SVG + "text"))
    assert "1961 more are not drawn: 1960 heaps, 1 material." in said


def test_it_is_said_in_sentences():
    parts = TreeBox(TreeKind.HEAP, "heap p1", "heat treated"), TreeBox(TreeKind.CAME_IN, "leaves", certain=False)
    tree = TreeBox(TreeKind.LOT, "lot-1", parts=parts)
    assert say_tree(tree) == "It contains heap p1 (heat treated). It may contain leaves."
    assert say_tree(TreeBox(TreeKind.LOT, "lot-1")) == "Nothing is recorded of what went into it."


@given(st.text(max_size=200), st.floats(30, 400), st.integers(1, 4))
def test_wrapped_lines_fit_and_lose_nothing_but_what_is_cut(text, width, most):
    lines = wrapped(text, width, 11, most)
    assert len(lines) <= most
    assert all(0 < width_of(line, 11) <= width or len(line) == 1 for line in lines)
    kept = "".join(lines).replace(" ", "")
    whole = "".join(text.split())
    if len(lines) < most and "…" not in kept and whole.isascii() and whole.isprintable():
        assert kept == whole
