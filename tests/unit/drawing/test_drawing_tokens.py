"""One set of colours, sizes and lines for page, certificate and reports; each pair can be told apart, day and night."""

import re
from itertools import pairwise
from pathlib import Path

import pytest

import monitor.page
from monitor.drawing import stylesheet
from monitor.drawing.tokens import DARK, DAY, LINES, PAPER, SIZES, Colour

C = Colour
ROOT = Path(monitor.page.__file__).parents[1]
STYLES = sorted((ROOT / "page" / "styles").glob("*.css"))
TEXTS = [
    (C.INK, C.PAPER), (C.SOFT, C.PAPER), (C.ACT, C.PAPER), (C.PRESS, C.PAPER), (C.DUE, C.PAPER), (C.PRESS_INK, C.PRESS),
    (C.BLAZE_INK, C.BLAZE), (C.INK, C.STRIPE), (C.INK, C.EARTH), (C.SOFT, C.EARTH), (C.INK, C.HOLD), (C.SOFT, C.HOLD),
    (C.SOFT, C.COMFORT), (C.PRESS, C.HOLD), (C.ACT, C.WASH_WARM), (C.DUE, C.WASH_DUE), (C.INK, C.WASH_WARM),
    (C.INK, C.WASH_DUE),
]  # fmt: skip
"""Words on their ground: 4.5 : 1 (WCAG 2.2, 1.4.3)."""
MARKS = [
    (C.EDGE, C.PAPER), (C.GREY, C.PAPER), (C.GREY, C.HOLD), (C.WARM, C.PAPER), (C.WARM, C.HOLD), (C.COOL, C.PAPER),
    (C.COOL, C.HOLD), (C.LEAF, C.PAPER), (C.LEAF, C.EARTH), (C.LEAF, C.COMFORT), (C.HATCH, C.PAPER), (C.SOFT, C.FEED),
    (C.SOFT, C.EARTH), *((Colour(f"heat-{degree}"), C.EARTH) for degree in range(6)),
]  # fmt: skip
"""Lines and shapes that carry a meaning: 3 : 1 (1.4.11)."""


def light(colour):
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    """The contrast ratio of WCAG 2.2 (https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio)."""
    low, high = sorted((light(one), light(other)))
    return (high + 0.05) / (low + 0.05)


def test_the_formula_is_that_of_the_standard():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)  # the well known grey that just passes


@pytest.mark.parametrize("colours", [DAY, DARK, PAPER], ids=["day", "night", "paper"])
@pytest.mark.parametrize(("pairs", "least"), [(TEXTS, 4.5), (MARKS, 3.0)], ids=["texts", "marks"])
def test_every_pair_can_be_told_apart(colours, pairs, least):
    low = {f"{one} on {ground}": round(contrast(colours[one], colours[ground]), 2) for one, ground in pairs}
    assert {pair: ratio for pair, ratio in low.items() if ratio < least} == {}


@pytest.mark.parametrize("colours", [DAY, DARK], ids=["day", "night"])
def test_the_hotter_the_stronger_by_day_and_at_night(colours):
    ratios = [contrast(colours[Colour(f"heat-{degree}")], colours[C.EARTH]) for degree in range(6)]
    assert all(later > 1.2 * former for former, later in pairwise(ratios))


def test_no_stylesheet_has_a_colour_of_its_own():
    found = {}
    for path in [*STYLES, *(ROOT / "app" / "tuning_report" / "templates").iterdir()]:
        text = re.sub(r"/\*.*?\*/", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
        # Black on white is for paper and for codes, whatever the theme.
        own = {one for one in re.findall(r"#[0-9a-fA-F]{3,8}\b|rgba?\([^)]*\)", text) if one not in ("#000", "#fff")}
        if own:
            found[path.name] = own
    assert found == {}
    typst = (ROOT / "certificate" / "pages" / "certificate.typ").read_text(encoding="utf-8")
    assert re.findall(r'rgb\("#', typst) == [], "the certificate takes its colours from its sheet"


def test_weights_of_lines_are_tokens():
    found = {
        f"{path.name}: {one}"
        for path in STYLES
        for one in re.findall(
            r"(?:border[a-z-]*|outline|text-decoration-thickness): ([\d.]+px)", path.read_text(encoding="utf-8")
        )
    }
    assert found == set()


def test_every_property_that_a_stylesheet_asks_for_is_declared():
    text = "".join(path.read_text(encoding="utf-8") for path in STYLES)
    declared = set(re.findall(r"(--[a-z0-9-]+):", text + stylesheet())) | {"--face"}
    assert set(re.findall(r"var\((--[a-z0-9-]+)", text)) - declared == set()


def test_sizes_of_letters_are_tokens():
    # A share of the text around it, and points on paper, are no sizes of their own.
    found = {
        f"{path.name}: {one}"
        for path in STYLES
        for one in re.findall(r"font-size: ([^;]+);", path.read_text(encoding="utf-8"))
        if not re.fullmatch(r"var\(--size-\w+\)|\.88em|[\d.]+pt", one)
    }
    assert found == set()
    sizes = [float(size.removesuffix("rem")) for size in SIZES.values()]
    assert sizes == sorted(sizes)
    assert set(LINES) == {"hair", "pen", "line", "bar"}
