"""The one set of colours, letter sizes and line weights, by day and at night, for page, drawings, certificate and reports.

The page gets them as custom properties (`--NAME`, `--size-NAME`, `--line-NAME`), the certificate in its sheet.
A test holds every pair of text and ground, and of mark and ground, against WCAG 2.2 (1.4.3 and 1.4.11).
"""

from enum import StrEnum
from typing import Self


class Colour(StrEnum):
    """The colours, named by what they are for."""

    day: str
    night: str

    def __new__(cls, name: str, day: str, night: str) -> Self:
        """Make the colour of a name."""
        colour = str.__new__(cls, name)
        colour._value_ = name
        colour.day, colour.night = day, night
        return colour

    INK = "ink", "#26241f", "#ece5d3"
    SOFT = "soft", "#5d584d", "#b4ac98"
    GREY = "grey", "#7a7364", "#948c79"
    RULE = "rule", "#ddd5c2", "#403c33"
    PAPER = "paper", "#fbf8f0", "#1d1b17"
    STRIPE = "stripe", "#f5f1e6", "#25221d"
    """Every second row of a long table."""
    EDGE = "edge", "#857e6c", "#7d7565"
    """Around what can be pressed or typed into."""
    MARGIN = "margin", "#b5533c", "#7d4636"
    """The ruled line at the left of the page; an ornament."""
    PRESS = "press", "#3f5a21", "#b6d08c"
    """A button, and what is well or met."""
    PRESS_INK = "press-ink", "#ffffff", "#1d1b17"
    ACT = "act", "#8f2413", "#ff9d80"
    """What needs a person now, and what is not met."""
    BLAZE = "blaze", "#8f1d12", "#8f1d12"
    BLAZE_INK = "blaze-ink", "#fbf8f0", "#fbf8f0"
    DUE = "due", "#7a5200", "#e3b45c"
    """What is not proven yet."""
    WARM = "warm", "#9c3d1c", "#ee9468"
    """Limits and alarms."""
    COOL = "cool", "#27617d", "#86bcd8"
    LEAF = "leaf", "#4d6829", "#a9c87e"
    HOLD = "hold", "#e4ead3", "#2d351f"
    COMFORT = "comfort", "#e9eedd", "#283022"
    HATCH = "hatch", "#8a8373", "#8a8372"
    EARTH = "earth", "#f1e9d6", "#2a2620"
    FEED = "feed", "#d9c79c", "#65572f"
    WASH_WARM = "wash-warm", "#f2d9c9", "#4a2c1e"
    WASH_DUE = "wash-due", "#f7ecd2", "#3d301a"
    WASH_COOL = "wash-cool", "#d7e4ea", "#1f3641"
    HEAT_0 = "heat-0", "#5e879c", "#54798b"
    HEAT_1 = "heat-1", "#70745b", "#858569"
    HEAT_2 = "heat-2", "#7c5e29", "#bb8d3e"
    HEAT_3 = "heat-3", "#7c461d", "#dc9a58"
    HEAT_4 = "heat-4", "#752f15", "#f5ad83"
    HEAT_5 = "heat-5", "#69180c", "#ffc6b4"


DAY: dict[Colour, str] = {one: one.day for one in Colour}
"""Colours by day, as ink on paper."""
DARK: dict[Colour, str] = {one: one.night for one in Colour}
"""Colours at night."""
PAPER: dict[Colour, str] = {**DAY, Colour.PAPER: "#ffffff"}
"""Colours of the printed form: those of the day on white paper."""

PRINTED: dict[str, str] = {one.value: colour for one, colour in PAPER.items()}
"""The same by name, for what is typeset."""

PAPER_COLOURS = {"light": DAY[Colour.PAPER], "dark": DARK[Colour.PAPER]}
"""The colour of the page's paper by the scheme of a device, for what takes no stylesheet."""

SIZES = {"fine": ".85rem", "note": ".92rem", "text": "1rem", "lead": "1.15rem", "place": "1.35rem", "number": "1.6rem",
         "sheet": "1.7rem"}  # fmt: skip
"""Sizes of letters on the page, in shares of what the reader's browser is set to; letters on drawings stand in `ink`."""
LINES = {"hair": "1px", "pen": "1.5px", "line": "2px", "bar": "3px"}
"""Weights of lines on the page."""

FAMILY = "Literata"
"""The typeface of page, certificate, labels and reports: a book face with figures of one width (`typeface/` finds it)."""
PRINT_FONT = f"{FAMILY}, Libertinus Serif, serif"
"""Typefaces of the printed form; typst carries the second, so the document does not depend on the machine's fonts."""


def properties() -> str:
    """Return the tokens as CSS custom properties.

    At night, which is the device's choice, the colours are others; on paper it is always day, and the paper white.
    """
    day, dark = (";".join(f"--{name}:{value}" for name, value in colours.items()) for colours in (DAY, DARK))
    rest = [f"--size-{name}:{value}" for name, value in SIZES.items()]
    rest += [f"--line-{name}:{value}" for name, value in LINES.items()]
    return "\n".join(
        [
            f":root{{{';'.join([day, *rest])}}}",
            f"@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}",
            f"@media print{{:root{{--paper:{PAPER[Colour.PAPER]}}}}}",
        ]
    )
