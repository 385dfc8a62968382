"""The one list of marks (class names) of a drawing, each with its meaning and its ink.

Rules this module keeps:
1. A picture names marks, never colours. On the page a mark is a class name that the stylesheet colours, by day and in
   the dark; on paper the same table gives presentation attributes.
2. Colour is never the only carrier of a meaning: marks that could be confused also differ in line style, weight,
   hatching, or carry a word.
3. Few colours: ink, a softer ink, one warm, one cool, one green, and washes of them.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Self

from monitor.drawing.tokens import PAPER, PRINT_FONT, Colour, properties


class Ink(StrEnum):
    """The source of a picture's colours: the page's stylesheet or, for paper, attributes of its own."""

    SCREEN = "screen"
    PRINT = "print"


@dataclass(frozen=True, slots=True)
class Meaning:
    """The meaning of a mark in words, and its ink.

    Attributes:
        words: What the mark stands for.
        attributes: SVG presentation attributes (which are CSS properties too); a `Colour` stands for itself.
    """

    words: str
    attributes: Mapping[str, str | Colour]


def _fill(words: str, colour: Colour) -> Meaning:
    return Meaning(words, {"fill": colour})


def _text(words: str, colour: Colour, size: int, weight: str = "") -> Meaning:
    return Meaning(words, {"fill": colour, "font-size": f"{size}px"} | ({"font-weight": weight} if weight else {}))


def _stroke(words: str, colour: Colour, width: str, dashes: str = "", fill: str | Colour = "none") -> Meaning:
    inked: dict[str, str | Colour] = {"fill": fill, "stroke": colour, "stroke-width": width}
    inked |= {"stroke-linejoin": "round", "stroke-linecap": "butt" if dashes else "round"}
    if dashes:
        inked["stroke-dasharray"] = dashes
    return Meaning(words, inked)


def _dense(words: str, colour: Colour) -> Meaning:
    inked = {**_stroke(words, colour, "0.6").attributes, "stroke-opacity": "0.6"}
    return Meaning(words, inked)


C = Colour


class Mark(StrEnum):
    """Every class name that can occur in a picture, with its meaning and its ink; the page's stylesheet is made from these."""

    meaning: Meaning

    def __new__(cls, word: str, meaning: Meaning) -> Self:
        """Make the mark of a class name."""
        mark = str.__new__(cls, word)
        mark._value_ = word
        mark.meaning = meaning
        return mark

    DRAWING = "d-drawing", Meaning("the whole picture", {})
    TEXT = "d-text", _text("a label", C.INK, 12)
    SMALL = "d-small", _text("a label of an axis, or a lesser one", C.SOFT, 12)
    STRONG = "d-strong", _text("the label that matters most", C.INK, 13, "bold")
    GROUND = "d-ground", Meaning("paper left free behind a label", {"fill": C.PAPER, "fill-opacity": "0.88"})
    AXIS = "d-axis", _stroke("an axis and its ticks", C.SOFT, "1")
    RULE = "d-rule", _stroke("a faint line across at a tick", C.RULE, "0.8")
    LEADER = "d-leader", _stroke("from a label to what it names", C.SOFT, "0.7")
    NOW = "d-now", _stroke("now", C.SOFT, "1", "1 3")
    GOVERNING = "d-governing", _stroke("the temperature that the rule looks at", C.INK, "2")
    PROBE_1 = "d-probe-1", _stroke("the first probe, and every fourth after it", C.INK, "1.2")
    PROBE_2 = "d-probe-2", _stroke("the second probe", C.SOFT, "1.3", "7 2")
    PROBE_3 = "d-probe-3", _stroke("the third probe", C.GREY, "1.5", "2 1.6")
    PROBE_4 = "d-probe-4", _stroke("the fourth probe", C.GREY, "1.3", "9 2 2 2")
    AMBIENT = "d-ambient", _stroke("the air outside", C.COOL, "0.9")
    GOVERNING_DENSE = (
        "d-governing-dense",
        _stroke("the governing temperature where it swings too fast to follow", C.INK, "1"),
    )
    DENSE_1 = "d-dense-1", _dense("the first probe, likewise", C.INK)
    DENSE_2 = "d-dense-2", _dense("the second probe, likewise", C.SOFT)
    DENSE_3 = "d-dense-3", _dense("the third probe, likewise", C.GREY)
    DENSE_4 = "d-dense-4", _dense("the fourth probe, likewise", C.GREY)
    AMBIENT_DENSE = "d-ambient-dense", _dense("the air outside, likewise", C.COOL)
    HAND = "d-hand", _stroke("between two readings by hand: assumed", C.SOFT, "0.8", "2 3")
    HAND_RING = "d-hand-ring", _stroke("a reading by hand", C.INK, "1.2", fill=C.PAPER)
    HOLD = "d-hold", _fill("time within the rule's temperature", C.HOLD)
    HOLD_EDGE = "d-hold-edge", _fill("a bar under that time", C.LEAF)
    COMFORT = "d-comfort", _fill("where worms or heap are comfortable", C.COMFORT)
    COMFORT_EDGE = "d-comfort-edge", _stroke("an end of that", C.LEAF, "0.9", "5 3")
    COMFORT_BAR = "d-comfort-bar", _fill("the band of comfort on a ruler", C.LEAF)
    UNPROVEN = "d-unproven", _stroke("hatching: nothing is proven here", C.HATCH, "0.6")
    LIMIT = "d-limit", _stroke("a limit", C.WARM, "1", "6 3")
    LIMIT_MARK = "d-limit-mark", _stroke("a limit on a ruler", C.WARM, "2")
    HOLD_LINE = "d-hold-line", _stroke("the temperature that the rule asks for", C.LEAF, "1.1", "6 3")
    TURNING = "d-turning", _stroke("a turning", C.INK, "1.1", "1.5 2.5")
    NOTE_WORK = "d-note-work", _stroke("lettered mark, square: work that was logged", C.INK, "1", fill=C.PAPER)
    NOTE_NOTICE = "d-note-notice", _stroke("lettered mark, round: a notice that went out", C.WARM, "1", fill=C.PAPER)
    NOTE_TEXT = "d-note-text", _text("the letter in such a mark", C.INK, 12)
    EARTH = "d-earth", _fill("the material of a heap or bin", C.EARTH)
    OUTLINE = "d-outline", _stroke("the surface of a heap", C.INK, "1.6")
    SOIL = "d-soil", _stroke("the ground", C.SOFT, "1")
    COVER = "d-cover", _stroke("the cover layer", C.SOFT, "1", "4 3")
    PIPE = "d-pipe", _stroke("the perforated pipe, the lid and legs of a vessel", C.INK, "1.3", fill=C.PAPER)
    DRAUGHT = "d-draught", _stroke("air blown in", C.COOL, "1")
    HEAT_0 = "d-heat-0", _stroke("heat: below 15 °C", C.HEAT_0, "0.7")
    HEAT_1 = "d-heat-1", _stroke("heat: 15 to 30 °C", C.HEAT_1, "0.9")
    HEAT_2 = "d-heat-2", _stroke("heat: 30 to 45 °C", C.HEAT_2, "1.1")
    HEAT_3 = "d-heat-3", _stroke("heat: 45 to 55 °C", C.HEAT_3, "1.3")
    HEAT_4 = "d-heat-4", _stroke("heat: 55 to 65 °C", C.HEAT_4, "1.5")
    HEAT_5 = "d-heat-5", _stroke("heat: 65 °C and more", C.HEAT_5, "1.9")
    CONTOUR = "d-contour", _stroke("the depth at which the heat passes the hold", C.LEAF, "1.6", "7 3")
    STEM = "d-stem", _stroke("a probe", C.INK, "1.4")
    STEM_LOST = "d-stem-lost", _stroke("a probe that is silent, out or broken", C.SOFT, "1.2", "3 3")
    TIP = "d-tip", _fill("where a probe measures", C.INK)
    TIP_LOST = "d-tip-lost", _stroke("where a probe would measure", C.SOFT, "1.3", fill=C.PAPER)
    CROSS = "d-cross", _stroke("a broken probe", C.WARM, "1.8")
    UPRIGHT = "d-upright", _stroke("a ruler beside a bin", C.INK, "1", fill=C.PAPER)
    UPRIGHT_POINTER = "d-upright-pointer", _fill("a value on such a ruler", C.INK)
    BOX = "d-box", _stroke("the boards of a bin", C.INK, "2")
    BEDDING = "d-bedding", _stroke("bedding", C.HATCH, "0.9")
    FEED = "d-feed", _stroke("the feed layer", C.SOFT, "0.9", fill=C.FEED)
    WORM = "d-worm", _stroke("worms", C.SOFT, "1.8")
    TRIED = "d-tried", _stroke("settings that were tried and missed some troubles", C.SOFT, "1")
    TRIED_FULL = "d-tried-full", _fill("settings that were tried and caught every trouble", C.SOFT)
    ROW_DOT = "d-row-dot", _stroke("settings that are told of in the list", C.LEAF, "1.6", fill=C.PAPER)
    TODAY = "d-today", _stroke("today's settings: a square", C.INK, "1.8", fill=C.PAPER)
    CHOSEN = "d-chosen", _stroke("the chosen settings: a ring with a dot", C.LEAF, "2", fill=C.PAPER)
    BAND_CALM = "d-band-calm", _fill("comfort, or as it should be", C.COMFORT)
    BAND_WARM = "d-band-warm", _fill("warmer than that", C.FEED)
    BAND_HOT = "d-band-hot", _fill("too hot", C.WASH_WARM)
    BAND_COLD = "d-band-cold", _fill("colder or wetter than that", C.WASH_COOL)
    BAND_UNKNOWN = "d-band-unknown", _fill("not known", C.PAPER)
    BAND_HATCH = (
        "d-band-hatch",
        _stroke("hatching in a band: upright for cold, slanted for hot, sparse for unknown", C.HATCH, "0.8"),
    )
    BAND_EDGE = "d-band-edge", _stroke("around a band", C.SOFT, "0.8")
    MESSAGE = "d-message", _stroke("a message", C.INK, "1.2", fill=C.INK)
    MESSAGE_GONE = "d-message-gone", _stroke("a message that would not have come", C.INK, "1.2", fill=C.PAPER)
    TROUBLE = "d-trouble", _stroke("a stretch marked as trouble", C.WARM, "1.8")
    MIX_BEST = "d-mix-best", _stroke("around what is best for a mix", C.LEAF, "1.2")
    MIX_MUST = "d-mix-must", _stroke("around what a mix has to keep", C.WARM, "1.3", "6 3")
    MIX_RANGE = "d-mix-range", _stroke("how far a mix may lie from its dot", C.INK, "1.5")
    MIX_TAKEN = "d-mix-taken", _stroke("a material of a mix: a filled diamond", C.SOFT, "1.2", fill=C.SOFT)
    MIX_LEFT_OUT = (
        "d-mix-left-out",
        _stroke("a material that was left out: an open diamond", C.SOFT, "1.2", fill=C.PAPER),
    )
    MIX_ARROW = "d-mix-arrow", _stroke("arrow: it lies further on, beyond the picture", C.INK, "1.2")
    TREE_BOX = "d-tree-box", _stroke("material that is surely in a lot", C.INK, "1.3", fill=C.PAPER)
    TREE_MAYBE_BOX = "d-tree-maybe-box", _stroke("material that may be in a lot", C.INK, "1", "5 3", fill=C.PAPER)
    TREE_LINE = "d-tree-line", _stroke("to what is surely in a lot", C.INK, "1.5")
    TREE_MAYBE_LINE = "d-tree-maybe-line", _stroke("to what may be in a lot", C.INK, "1.1", "5 3")
    LABEL_PAPER = "d-label-paper", Meaning("the paper of a label, white also at night", {"fill": "#fff"})
    LABEL_WORDS = "d-label-words", Meaning("what to heed, on a label", {"fill": "#000", "font-size": "11px"})
    SLIP_NAME = (
        "d-slip-name",
        Meaning("the place on a slip to write on", {"fill": "#000", "font-size": "28px", "font-weight": "bold"}),
    )
    SLIP_LINE = (
        "d-slip-line",
        Meaning("a line of such a slip", {"fill": "none", "stroke": "#000", "stroke-width": "0.8"}),
    )
    CODE = "d-code", Meaning("the dark squares of a code, black also at night", {"fill": "#000"})
    PLAN_LINE = "d-plan-line", _stroke("the last days of a place", C.INK, "1.5")
    PLAN_READ = "d-plan-read", _stroke("readings of these days that stand alone", C.INK, "4")
    PLAN_END = "d-plan-end", _stroke("the newest of them", C.INK, "7")
    PLAN_EDGE = "d-plan-edge", _stroke("the lower end of the band in which all is well", C.LEAF, "1", "4 3")
    COURSE_BAND = "d-course-band", _fill("from the coldest to the hottest probe of a heap", C.RULE)
    COURSE_LINE = "d-course-line", _stroke("the coldest probe of a heap", C.INK, "1.3")
    YEAR_BAND = "d-year-band", _fill("from the lowest to the highest of each day", C.GREY)
    YEAR_HOT = "d-year-hot", _stroke("a day past the limit against heat", C.WARM, "0.8", fill=C.WARM)
    YEAR_COLD = "d-year-cold", _stroke("a day past the limit against frost", C.COOL, "0.8", fill=C.COOL)
    HARVEST = "d-harvest", _stroke("a harvest: a diamond", C.INK, "1.2", fill=C.PAPER)
    RULER = "d-ruler", Meaning("a ruler", {"fill": "none", "stroke": "currentColor", "stroke-width": "1"})
    RULER_WRONG = (
        "d-ruler-wrong",
        Meaning("the wrong side of a ruler", {"fill": "none", "stroke": "currentColor", "stroke-width": "4"}),
    )
    RULER_LIMIT = (
        "d-ruler-limit",
        Meaning("the limit on a ruler", {"fill": "none", "stroke": "currentColor", "stroke-width": "2"}),
    )
    RULER_HERE = "d-ruler-here", Meaning("the number on a ruler", {"fill": "currentColor"})
    FINE = "d-fine", _stroke("a stretch marked as fine", C.LEAF, "1.4", "2 3")


del C

HEAT: tuple[tuple[int, Mark], ...] = (
    (65_000, Mark.HEAT_5),
    (55_000, Mark.HEAT_4),
    (45_000, Mark.HEAT_3),
    (30_000, Mark.HEAT_2),
    (15_000, Mark.HEAT_1),
    (-(2**40), Mark.HEAT_0),
)
"""Least temperature (thousandths of °C) of each degree of heat; a choice of this project."""

PROBE_MARKS = (Mark.PROBE_1, Mark.PROBE_2, Mark.PROBE_3, Mark.PROBE_4)
"""Line styles of ordinary probes, in turn."""

DENSE: dict[Mark, Mark] = {
    Mark.GOVERNING: Mark.GOVERNING_DENSE,
    Mark.PROBE_1: Mark.DENSE_1,
    Mark.PROBE_2: Mark.DENSE_2,
    Mark.PROBE_3: Mark.DENSE_3,
    Mark.PROBE_4: Mark.DENSE_4,
    Mark.AMBIENT: Mark.AMBIENT_DENSE,
}
"""Thinner ink for a line that swings up and down so fast that it would look like a wall of colour."""

_BY_CLASS = {mark.value: mark for mark in Mark}
_CLASS = re.compile(r' class="([^"]*)"')


def inline(svg: str, ink: Ink) -> str:
    """Return a picture drawn for the screen with its marks in the given ink; a picture inked already stays as it is.

    Safe on any picture of this package: quotes within labels are always escaped, so `class="` is only ever ours.
    """
    return svg if ink is Ink.SCREEN else _CLASS.sub(_inked, svg)


def _inked(found: re.Match[str]) -> str:
    mark = _BY_CLASS[found[1]]
    if mark is Mark.DRAWING:
        return f' font-family="{PRINT_FONT}"'
    inked = mark.meaning.attributes.items()
    return "".join(f' {key}="{PAPER[value] if isinstance(value, Colour) else value}"' for key, value in inked)


_ROUND = {"stroke-linejoin": "round", "stroke-linecap": "round"}


def stylesheet() -> str:
    """Return CSS for a page: the colours as custom properties, by day and at night, and one rule for each mark."""
    return f"{properties()}\n{mark_rules(Mark)}"


def mark_rules(marks: Iterable[Mark]) -> str:
    """Return CSS for drawings: what all strokes share, and one rule for each of some marks."""
    rules = [
        ".d-drawing{max-width:100%;height:auto;font-family:inherit}",
        # What nearly every stroke shares is said once; the marks below say what differs.
        f"[class^=d-]{{{';'.join(f'{name}:{value}' for name, value in _ROUND.items())}}}",
    ]
    for mark in marks:
        inked = [(name, value) for name, value in mark.meaning.attributes.items() if _ROUND.get(name) != value]
        body = ";".join(f"{k}:{f'var(--{v})' if isinstance(v, Colour) else v}" for k, v in inked)
        if body:
            rules.append(f".{mark}{{{body}}}")
    return "\n".join(rules) + "\n"
