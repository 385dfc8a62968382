"""The one list of marks (class names) of a drawing, each with its meaning and its ink.

Rules this module keeps:
1. A picture names marks, never colours. On the page a mark is a class name that the stylesheet colours, by day and in
   the dark; on paper the same table gives presentation attributes.
2. Colour is never the only carrier of a meaning: marks that could be confused also differ in line style, weight,
   hatching, or carry a word.
3. Few colours: ink, a softer ink, one warm, one cool, one green, and washes of them.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Ink(StrEnum):
    """Where a picture gets its colours: from the page's stylesheet, or from attributes of its own for paper."""

    SCREEN = "screen"
    PRINT = "print"


class Mark(StrEnum):
    """Every class name that can occur in a picture."""

    DRAWING = "d-drawing"
    TEXT = "d-text"
    SMALL = "d-small"
    STRONG = "d-strong"
    GROUND = "d-ground"
    AXIS = "d-axis"
    RULE = "d-rule"
    LEADER = "d-leader"
    NOW = "d-now"
    GOVERNING = "d-governing"
    PROBE_1 = "d-probe-1"
    PROBE_2 = "d-probe-2"
    PROBE_3 = "d-probe-3"
    PROBE_4 = "d-probe-4"
    AMBIENT = "d-ambient"
    GOVERNING_DENSE = "d-governing-dense"
    DENSE_1 = "d-dense-1"
    DENSE_2 = "d-dense-2"
    DENSE_3 = "d-dense-3"
    DENSE_4 = "d-dense-4"
    AMBIENT_DENSE = "d-ambient-dense"
    HAND = "d-hand"
    HAND_RING = "d-hand-ring"
    HOLD = "d-hold"
    HOLD_EDGE = "d-hold-edge"
    COMFORT = "d-comfort"
    COMFORT_EDGE = "d-comfort-edge"
    UNPROVEN = "d-unproven"
    LIMIT = "d-limit"
    TURNING = "d-turning"
    NOTE_WORK = "d-note-work"
    NOTE_NOTICE = "d-note-notice"
    NOTE_TEXT = "d-note-text"
    EARTH = "d-earth"
    OUTLINE = "d-outline"
    SOIL = "d-soil"
    COVER = "d-cover"
    PIPE = "d-pipe"
    DRAUGHT = "d-draught"
    HEAT_0 = "d-heat-0"
    HEAT_1 = "d-heat-1"
    HEAT_2 = "d-heat-2"
    HEAT_3 = "d-heat-3"
    HEAT_4 = "d-heat-4"
    HEAT_5 = "d-heat-5"
    STEM = "d-stem"
    STEM_LOST = "d-stem-lost"
    TIP = "d-tip"
    TIP_LOST = "d-tip-lost"
    CROSS = "d-cross"
    BOX = "d-box"
    BEDDING = "d-bedding"
    FEED = "d-feed"
    WORM = "d-worm"
    TRIED = "d-tried"
    TRIED_FULL = "d-tried-full"
    ROW_DOT = "d-row-dot"
    TODAY = "d-today"
    CHOSEN = "d-chosen"
    BAND_CALM = "d-band-calm"
    BAND_WARM = "d-band-warm"
    BAND_HOT = "d-band-hot"
    BAND_COLD = "d-band-cold"
    BAND_UNKNOWN = "d-band-unknown"
    BAND_HATCH = "d-band-hatch"
    BAND_EDGE = "d-band-edge"
    MESSAGE = "d-message"
    MESSAGE_GONE = "d-message-gone"
    TROUBLE = "d-trouble"
    FINE = "d-fine"


class Colour(StrEnum):
    """The colours of the stylesheet, as custom properties `--drawing-NAME`."""

    INK = "ink"
    SOFT = "soft"
    RULE = "rule"
    PAPER = "paper"
    WARM = "warm"
    COOL = "cool"
    LEAF = "leaf"
    HOLD = "hold"
    COMFORT = "comfort"
    HATCH = "hatch"
    EARTH = "earth"
    FEED = "feed"
    WASH_WARM = "wash-warm"
    WASH_COOL = "wash-cool"
    HEAT_0 = "heat-0"
    HEAT_1 = "heat-1"
    HEAT_2 = "heat-2"
    HEAT_3 = "heat-3"
    HEAT_4 = "heat-4"
    HEAT_5 = "heat-5"


_DAY = (
    "#26241f #5d584d #ddd5c2 #fbf8f0 #9c3d1c #27617d #4d6829 #e4ead3 #e9eedd #8d8676 #f1e9d6 #d9c79c #f2d9c9 #d7e4ea "
    "#5e879c #70745b #7c5e29 #7c461d #752f15 #69180c"
)
_DARK = (
    "#ece5d3 #b4ac98 #403c33 #1d1b17 #ee9468 #86bcd8 #a9c87e #2d351f #283022 #8a8372 #2a2620 #6b5c33 #4a2c1e #1f3641 "
    "#54798b #858569 #bb8d3e #dc9a58 #f5ad83 #ffc6b4"
)
DAY: dict[Colour, str] = dict(zip(Colour, _DAY.split(), strict=True))
"""Colours by day, as ink on paper."""
DARK: dict[Colour, str] = dict(zip(Colour, _DARK.split(), strict=True))
"""Colours at night."""
PAPER: dict[Colour, str] = {**DAY, Colour.PAPER: "#ffffff"}
"""Colours of the printed form: those of the day on white paper."""

PRINT_FONT = "Libertinus Serif, serif"
"""Typeface of the printed form; typst carries it, so the document does not depend on the machine's fonts."""


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
MEANINGS: dict[Mark, Meaning] = {
    Mark.DRAWING: Meaning("the whole picture", {}),
    Mark.TEXT: _text("a label", C.INK, 12),
    Mark.SMALL: _text("a label of an axis, or a lesser one", C.SOFT, 11),
    Mark.STRONG: _text("the label that matters most", C.INK, 13, "bold"),
    Mark.GROUND: Meaning("paper left free behind a label", {"fill": C.PAPER, "fill-opacity": "0.7"}),
    Mark.AXIS: _stroke("an axis and its ticks", C.SOFT, "1"),
    Mark.RULE: _stroke("a faint line across at a tick", C.RULE, "0.8"),
    Mark.LEADER: _stroke("from a label to what it names", C.SOFT, "0.7"),
    Mark.NOW: _stroke("now", C.SOFT, "1", "1 3"),
    Mark.GOVERNING: _stroke("the temperature that the rule looks at", C.INK, "2.2"),
    Mark.PROBE_1: _stroke("the first probe, and every fourth after it", C.WARM, "1.2"),
    Mark.PROBE_2: _stroke("the second probe", C.COOL, "1.2", "7 2"),
    Mark.PROBE_3: _stroke("the third probe", C.LEAF, "1.3", "2 1.6"),
    Mark.PROBE_4: _stroke("the fourth probe", C.SOFT, "1.2", "9 2 2 2"),
    Mark.AMBIENT: _stroke("the air outside", C.SOFT, "0.7"),
    Mark.GOVERNING_DENSE: _stroke("the governing temperature where it swings too fast to follow", C.INK, "1"),
    Mark.DENSE_1: _dense("the first probe, likewise", C.WARM),
    Mark.DENSE_2: _dense("the second probe, likewise", C.COOL),
    Mark.DENSE_3: _dense("the third probe, likewise", C.LEAF),
    Mark.DENSE_4: _dense("the fourth probe, likewise", C.SOFT),
    Mark.AMBIENT_DENSE: _dense("the air outside, likewise", C.SOFT),
    Mark.HAND: _stroke("between two readings by hand: assumed", C.SOFT, "0.8", "2 3"),
    Mark.HAND_RING: _stroke("a reading by hand", C.INK, "1.2", fill=C.PAPER),
    Mark.HOLD: _fill("time within the rule's temperature", C.HOLD),
    Mark.HOLD_EDGE: _fill("a bar under that time", C.LEAF),
    Mark.COMFORT: _fill("where worms or heap are comfortable", C.COMFORT),
    Mark.COMFORT_EDGE: _stroke("an end of that", C.LEAF, "0.9", "5 3"),
    Mark.UNPROVEN: _stroke("hatching: nothing is proven here", C.HATCH, "0.6"),
    Mark.LIMIT: _stroke("a limit", C.WARM, "1.1", "6 3"),
    Mark.TURNING: _stroke("a turning", C.INK, "1.1", "1.5 2.5"),
    Mark.NOTE_WORK: _stroke("numbered mark, square: work that was logged", C.INK, "1", fill=C.PAPER),
    Mark.NOTE_NOTICE: _stroke("numbered mark, round: a notice that went out", C.WARM, "1", fill=C.PAPER),
    Mark.NOTE_TEXT: _text("the number in such a mark", C.INK, 11),
    Mark.EARTH: _fill("the material of a heap or bin", C.EARTH),
    Mark.OUTLINE: _stroke("the surface of a heap", C.INK, "1.6"),
    Mark.SOIL: _stroke("the ground", C.SOFT, "1"),
    Mark.COVER: _stroke("the cover layer", C.SOFT, "1", "4 3"),
    Mark.PIPE: _stroke("the perforated pipe, the lid and legs of a vessel", C.INK, "1.3", fill=C.PAPER),
    Mark.DRAUGHT: _stroke("air blown in", C.COOL, "1"),
    Mark.HEAT_0: _stroke("heat: below 15 °C", C.HEAT_0, "0.7"),
    Mark.HEAT_1: _stroke("heat: 15 to 30 °C", C.HEAT_1, "0.9"),
    Mark.HEAT_2: _stroke("heat: 30 to 45 °C", C.HEAT_2, "1.1"),
    Mark.HEAT_3: _stroke("heat: 45 to 55 °C", C.HEAT_3, "1.3"),
    Mark.HEAT_4: _stroke("heat: 55 to 65 °C", C.HEAT_4, "1.5"),
    Mark.HEAT_5: _stroke("heat: 65 °C and more", C.HEAT_5, "1.9"),
    Mark.STEM: _stroke("a probe", C.INK, "1.4"),
    Mark.STEM_LOST: _stroke("a probe that is silent, out or broken", C.SOFT, "1.2", "3 3"),
    Mark.TIP: _fill("where a probe measures", C.INK),
    Mark.TIP_LOST: _stroke("where a probe would measure", C.SOFT, "1.3", fill=C.PAPER),
    Mark.CROSS: _stroke("a broken probe", C.WARM, "1.8"),
    Mark.BOX: _stroke("the boards of a bin", C.INK, "2"),
    Mark.BEDDING: _stroke("bedding", C.HATCH, "0.9"),
    Mark.FEED: _stroke("the feed layer", C.SOFT, "0.9", fill=C.FEED),
    Mark.WORM: _stroke("worms", C.WARM, "1.8"),
    Mark.TRIED: _stroke("settings that were tried and missed some troubles", C.SOFT, "1"),
    Mark.TRIED_FULL: _fill("settings that were tried and caught every trouble", C.SOFT),
    Mark.ROW_DOT: _stroke("settings that are told of in the list", C.LEAF, "1.6", fill=C.PAPER),
    Mark.TODAY: _stroke("today's settings: a square", C.INK, "1.8", fill=C.PAPER),
    Mark.CHOSEN: _stroke("the chosen settings: a ring with a dot", C.WARM, "2", fill=C.PAPER),
    Mark.BAND_CALM: _fill("comfort, or as it should be", C.COMFORT),
    Mark.BAND_WARM: _fill("warmer than that", C.FEED),
    Mark.BAND_HOT: _fill("too hot", C.WASH_WARM),
    Mark.BAND_COLD: _fill("colder or wetter than that", C.WASH_COOL),
    Mark.BAND_UNKNOWN: _fill("not known", C.PAPER),
    Mark.BAND_HATCH: _stroke(
        "hatching in a band: upright for cold, slanted for hot, sparse for unknown", C.HATCH, "0.8"
    ),
    Mark.BAND_EDGE: _stroke("around a band", C.SOFT, "0.8"),
    Mark.MESSAGE: _stroke("a message", C.INK, "1.2", fill=C.INK),
    Mark.MESSAGE_GONE: _stroke("a message that would not have come", C.INK, "1.2", fill=C.PAPER),
    Mark.TROUBLE: _stroke("a stretch marked as trouble", C.WARM, "1.8"),
    Mark.FINE: _stroke("a stretch marked as fine", C.LEAF, "1.4", "2 3"),
}
"""Each class name with its meaning and its ink; the page's stylesheet is made from this."""
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

_CLASS = re.compile(r' class="([^"]*)"')


def inline(svg: str, ink: Ink) -> str:
    """Return a picture drawn for the screen with its marks in the given ink; a picture inked already stays as it is.

    Safe on any picture of this package: quotes within labels are always escaped, so `class="` is only ever ours.
    """
    return svg if ink is Ink.SCREEN else _CLASS.sub(_inked, svg)


def _inked(found: re.Match[str]) -> str:
    mark = Mark(found[1])
    if mark is Mark.DRAWING:
        return f' font-family="{PRINT_FONT}"'
    inked = MEANINGS[mark].attributes.items()
    return "".join(f' {key}="{PAPER[value] if isinstance(value, Colour) else value}"' for key, value in inked)


def stylesheet() -> str:
    """Return CSS for the page: the colours as custom properties, day and dark, and one rule for each mark.

    Dark follows the device; `data-theme="day"` or `data-theme="dark"` on the root element overrides it.
    """
    day, dark = (";".join(f"--drawing-{name}:{value}" for name, value in colours.items()) for colours in (DAY, DARK))
    rules = [
        f":root{{{day}}}",
        f'@media screen and (prefers-color-scheme:dark){{:root:not([data-theme="day"]){{{dark}}}}}',
        f'@media screen{{:root[data-theme="dark"]{{{dark}}}}}',
        ".d-drawing{max-width:100%;height:auto;font-family:inherit}",
    ]
    for mark, meaning in MEANINGS.items():
        inked = meaning.attributes.items()
        body = ";".join(f"{k}:{f'var(--drawing-{v})' if isinstance(v, Colour) else v}" for k, v in inked)
        if body:
            rules.append(f".{mark}{{{body}}}")
    return "\n".join(rules) + "\n"
