"""The content of a plot over time, as plain values that the caller puts together."""

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
    """The role of a series, which sets its line style."""

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
        kind: Its role: the governing temperature is drawn strongest, the air thin, hand readings as rings.
        max_gap_ms: Readings further apart are not joined; None joins all.
        outside: Stretches in which the probe lay outside: drawn as a gap with a bracket under it, whatever was read meanwhile.
        fit_again: For each of those, the instant from which its readings count again, UTC ms; empty: from the end on.
    """

    name: str
    times: "NDArray[np.int64]"
    milli: "NDArray[np.int64]"
    kind: LineKind = LineKind.PROBE
    max_gap_ms: int | None = None
    outside: Spans = ()
    fit_again: Sequence[int] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLine:
    """The last days of a place, for a small line.

    Attributes:
        times: UTC ms, rising.
        milli: Values, thousandths; as many.
        start, end: The first and last instant of the line, UTC ms.
        low, high: The values at the foot and at the top; what lies beyond stands there.
        band: The values between which all is well, or None.
        max_gap_ms: Readings further apart are not joined; None: people read them, and each is a dot.
        cuts: Instants that no line is carried over, UTC ms.
        words: The same in words, for people who cannot see it.
    """

    times: "NDArray[np.int64]"
    milli: "NDArray[np.int64]"
    start: int
    end: int
    low: float
    high: float
    band: tuple[float, float] | None
    max_gap_ms: int | None
    cuts: Sequence[int] = ()
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Turning:
    """A turning: its instant (UTC ms), and the label written at it (its number if "")."""

    at: int
    label: str = ""


class NoteKind(StrEnum):
    """Meaning of a lettered mark: work is a square, a notice is round."""

    WORK = "work"
    NOTICE = "notice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A lettered mark under the plot; its words stand beside the picture under the same letter (1: a, 2: b)."""

    at: int
    number: int = 0
    words: str = ""
    kind: NoteKind = NoteKind.WORK


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """A limit, thousandths, with its label; `wanted` if a rule asks for it, where others warn."""

    milli: int
    label: str = ""
    wanted: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Comfort:
    """A band of comfort, thousandths, with its label."""

    low_milli: int
    high_milli: int
    label: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OverTime:
    """A plot over time.

    Attributes:
        start, end: The ends of the time axis, UTC ms.
        zone: The yard's time zone, for the ticks.
        unit: Unit in which values are shown.
        lines: The series, in the order in which they are named.
        second_unit: Whether the other unit of temperature stands on the right.
        holds, hold_words: Stretches to shade, and their meaning.
        unproven, unproven_words: Stretches to hatch, and their meaning.
        turnings, notes, limits, comfort: Further marks.
        now: An instant to mark as now, or None.
        values_at_ends: Whether the newest value stands behind each name; the title then names the unit.
        left_room, names_room: Least room at either side, units, so that plots below each other share one frame.
        width, height: Size, units; about 360 wide for a phone.
        points: Rough limit on the readings drawn, all lines together; each column keeps its lowest and highest.
        title, words: Title of the picture, and its description; "" makes them from the numbers.
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
    values_at_ends: bool = False
    left_room: float = 0
    names_room: float = 0
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
