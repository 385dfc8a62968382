"""What stands on a plot over time: plain values that whoever asks for a picture puts together."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from monitor.drawing.scales import Unit

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

Spans = Sequence[tuple[int, int]]
"""Stretches of time as (start, end), UTC ms."""


class LineKind(StrEnum):
    """How a series is drawn."""

    GOVERNING = "governing"
    PROBE = "probe"
    AMBIENT = "ambient"
    BY_HAND = "by hand"


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One series of readings.

    Attributes:
        name: Written at its end.
        times: UTC ms, rising.
        milli: Values, thousandths of °C or of a percent; as many.
        kind: How it is drawn: the governing temperature strongest, the air thin, hand readings as rings.
        max_gap_ms: Readings further apart are not joined; None joins all.
        outside: When the probe lay outside: a gap with a bracket under it, whatever was read meanwhile.
        fit_again: For each of those, from when on what it reads counts again, UTC ms; none: from its end on.
    """

    name: str
    times: "NDArray[np.int64]"
    milli: "NDArray[np.int64]"
    kind: LineKind = LineKind.PROBE
    max_gap_ms: int | None = None
    outside: Spans = ()
    fit_again: Sequence[int] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Turning:
    """A turning: when, and what is written at it (its number where "")."""

    at: int
    label: str = ""


class NoteKind(StrEnum):
    """What a numbered mark stands for: work is a square, a notice is round."""

    WORK = "work"
    NOTICE = "notice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A numbered mark under the plot; its words stand beside the picture under the same number."""

    at: int
    number: int
    words: str = ""
    kind: NoteKind = NoteKind.WORK


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A limit, thousandths, with its label."""

    milli: int
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comfort:
    """A band within which all is well, thousandths, with its label."""

    low_milli: int
    high_milli: int
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OverTime:
    """A plot over time.

    Attributes:
        start, end: The ends of the time axis, UTC ms.
        zone: The yard's time zone, for the ticks.
        unit: What values are shown in.
        lines: The series, in the order in which they are named.
        second_unit: Whether the other unit of temperature stands on the right.
        holds, hold_words: Stretches that are shaded, and what they are.
        unproven, unproven_words: Stretches that are hatched, and what they are.
        turnings, notes, limits, comfort: What else is marked.
        now: An instant to mark as now, or None.
        width, height: Size, units; about 360 wide for a phone.
        points: Readings of all lines together that are drawn, about; each column keeps its lowest and highest.
        title, words: What the picture is, and what is seen on it; "" makes them from the numbers.
    """

    start: int
    end: int
    zone: ZoneInfo
    unit: Unit
    lines: tuple[Line, ...]
    second_unit: bool = False
    holds: Spans = ()
    hold_words: str = "at temperature"
    unproven: Spans = ()
    unproven_words: str = "not proven"
    turnings: tuple[Turning, ...] = ()
    notes: tuple[Note, ...] = ()
    limits: tuple[Limit, ...] = ()
    comfort: tuple[Comfort, ...] = ()
    now: int | None = None
    width: int = 720
    height: int = 280
    points: int = 3_800
    title: str = ""
    words: str = ""

    def __post_init__(self) -> None:
        """Check the frame.

        Raises:
            ValueError: The plot ends before it starts, or is too small to draw in.
        """
        if self.end <= self.start:
            raise ValueError(f"a plot cannot start at {self.start} and end at {self.end}")
        if self.width < 160 or self.height < 100:
            raise ValueError(f"{self.width} by {self.height} units are too few for a plot (at least 160 by 100)")
