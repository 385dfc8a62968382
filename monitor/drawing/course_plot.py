"""A heap by days since it was built: one of several small plots beside each other, on one axis of days and one of temperature.

Rules this module keeps:
1. All plots that are to be compared share their frame (`course_frame`), so a day and a degree lie at the same place in each.
2. Only what was read is drawn: a pause longer than `GAP_DAYS` is a gap; readings by hand are rings, and the dashes between them
   say that the line is assumed.
3. The axis ends a while after the last hot time of all; a line that goes on beyond it ends in an arrow.
4. Work is a letter over its day, in a row for each kind; where two would touch, the later one is a dot.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import ceil

from monitor.drawing.frame import value_ticks
from monitor.drawing.ink import Ink, Mark
from monitor.drawing.lettering import width_of
from monitor.drawing.scales import Scale, Unit, room, say_tick
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, block, number, polyline, segment

WIDTH = 276
GAP_DAYS = 0.5
WEEK = 7
AFTER_DAYS, LONGEST_DAYS = 10, 84
"""The days after its hot time in which a heap is worth comparing, and the longest axis (our choice): a heap that cools for
months would squeeze the hot weeks, of which the rules speak, into a corner."""
_LEFT, _RIGHT, _TOP, _FLOOR, _HEIGHT = 32.0, 270.0, 32.0, 140.0, 158.0
_COLUMNS = 118
"""So many stretches of time a line keeps at most, each with its coldest and its hottest."""
_LETTER = 8.5
"""The least distance between two letters, units."""
_APART = 0.6
"""Times at the hold that are closer than this are drawn as one, units."""
_SMALL = FONT_SIZE[Mark.SMALL]

Step = tuple[float, int, int]
"""Days since the building, the coldest and the hottest, thousandths of °C."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """A heap to be drawn; times are days since its building, temperatures thousandths of °C.

    Attributes:
        days: Its age, or its age when it went.
        over: Whether it is gone.
        steps: The readings of its probes, some hours at a time.
        rounds: Its readings by hand.
        holds: The times at the temperature that its rule asks for: (from, to).
        hold: That temperature.
        held: The words beside these times.
        turned, watered, added: Its turnings and waterings, and the instants at which more material came.
        title, words: For people who listen.
    """

    days: float
    over: bool
    steps: Sequence[Step] = ()
    rounds: Sequence[Step] = ()
    holds: Sequence[tuple[float, float]] = ()
    hold: int
    held: str = ""
    turned: Sequence[float] = ()
    watered: Sequence[float] = ()
    added: Sequence[float] = ()
    title: str = ""
    words: str = ""

    @property
    def last_read(self) -> float:
        """The day of its last reading, or 0."""
        return max((seen[-1][0] for seen in (self.steps, self.rounds) if seen), default=0.0)

    @property
    def telling(self) -> float:
        """The day up to which it is worth comparing: a while after its hot time, or all that was read if it had none."""
        return min(self.last_read, self.holds[-1][1] + AFTER_DAYS) if self.holds else self.last_read


@dataclass(frozen=True, slots=True)
class CourseFrame:
    """The frame that plots beside each other share: the number of days, and the temperatures (shown in `unit`)."""

    days: int
    low: float
    high: float
    unit: Unit


def course_frame(courses: Iterable[Course], unit: Unit) -> CourseFrame:
    """Return the frame of some plots beside each other: whole weeks, as many as the longest needs.

    Args:
        courses: The heaps.
        unit: The unit of temperature.
    """
    some = list(courses)
    weeks = min(max(ceil(max((one.telling for one in some), default=0.0) / WEEK), 3), LONGEST_DAYS // WEEK)
    seen = [value for one in some for _, *both in (*one.steps, *one.rounds) for value in both]
    seen += [one.hold for one in some]
    shown = [unit.shown(value) for value in seen] or [unit.shown(0), unit.shown(60_000)]
    return CourseFrame(weeks * WEEK, *room(min(shown), max(shown), 20), unit)


def course_plot(course: Course, frame: CourseFrame, ink: Ink = Ink.SCREEN) -> str:
    """Return the plot of a heap as SVG.

    Args:
        course: The heap.
        frame: The frame that it shares with the plots beside it.
        ink: Where its colours come from.
    """
    return _Plot(course, frame).render(ink)


class _Plot:
    """One plot in the making."""

    def __init__(self, course: Course, frame: CourseFrame) -> None:
        self._course, self._frame = course, frame
        self._across = Scale(0.0, frame.days, _LEFT, _RIGHT)
        self._up = Scale(frame.low, frame.high, _FLOOR, _TOP)
        self._sheet = Sheet(WIDTH, _HEIGHT, course.title, course.words)

    def render(self, ink: Ink) -> str:
        """Draw all of it."""
        self._holds()
        self._axes()
        self._probes()
        self._by_hand()
        self._end()
        self._letters()
        self._held()
        return self._sheet.render(ink)

    def _y(self, milli: float) -> float:
        return self._up.within(self._frame.unit.shown(milli))

    def _holds(self) -> None:
        spans: list[tuple[float, float]] = []
        for start, end in self._course.holds:
            left, right = self._across.within(start), self._across.within(end)
            if start >= self._frame.days:
                break
            if spans and left - spans[-1][1] < _APART:
                spans[-1] = spans[-1][0], max(right, spans[-1][1])
            else:
                spans.append((left, max(right, left + _APART)))
        self._sheet.path(Mark.HOLD, "".join(block(a, _TOP, b, _FLOOR) for a, b in spans))
        self._sheet.path(Mark.HOLD_EDGE, "".join(block(a, _FLOOR - 3, b, _FLOOR) for a, b in spans))

    def _axes(self) -> None:
        frame, sheet, hold = self._frame, self._sheet, self._y(self._course.hold)
        for value in value_ticks(frame.low, frame.high, _FLOOR - _TOP):
            y = self._up.place(value)
            sheet.line(Mark.RULE, _LEFT, y, _RIGHT, y)
            if abs(y - hold) > _SMALL:
                sheet.text(Mark.SMALL, _LEFT - 4, y + 4, say_tick(value), "end")
        sheet.line(Mark.HOLD_LINE, _LEFT, hold, _RIGHT, hold)
        sheet.text(Mark.TEXT, _LEFT - 4, hold + 4, f"{frame.unit.shown(self._course.hold):.0f}", "end")
        sheet.line(Mark.AXIS, _LEFT, _FLOOR, _RIGHT, _FLOOR)
        free = 0.0
        for day in range(0, frame.days + 1, WEEK):
            x = self._across.place(day)
            words = "day 0" if day == 0 else str(day)
            half = width_of(words, _SMALL) / 2
            sheet.line(Mark.AXIS, x, _FLOOR, x, _FLOOR + 4)
            at = min(x, WIDTH - half - 1)
            if at - half >= free:
                sheet.text(Mark.SMALL, at, _FLOOR + 16, words, "middle")
                free = at + half + 4

    def _probes(self) -> None:
        for run in _runs(_merged(self._course.steps, self._frame.days), self._frame.days):
            xs = [self._across.within(day) for day, _, _ in run]
            lows = [(x, self._y(low)) for x, (_, low, _) in zip(xs, run, strict=True)]
            highs = [(x, self._y(high)) for x, (_, _, high) in zip(xs, run, strict=True)]
            if len(run) == 1:
                self._sheet.path(Mark.COURSE_LINE, segment(*lows[0], *highs[0]))
                continue
            self._sheet.path(Mark.COURSE_BAND, polyline([*highs, *reversed(lows)]) + "Z")
            self._sheet.path(Mark.COURSE_LINE, polyline(lows))

    def _by_hand(self) -> None:
        rounds = [one for one in self._course.rounds if one[0] <= self._frame.days]
        points = [(self._across.within(day), self._y(low)) for day, low, _ in rounds]
        if len(points) > 1:
            self._sheet.path(Mark.HAND, polyline(points))
        spread = [segment(x, y, x, self._y(high)) for (x, y), (_, _, high) in zip(points, rounds, strict=True)]
        self._sheet.path(Mark.LEADER, "".join(spread))
        for x, y in points:
            self._sheet.circle(Mark.HAND_RING, x, y, 2)

    def _end(self) -> None:
        """Say where it ends: a line where it went, a dot where it is now."""
        course, last = self._course, self._frame.days
        if course.over and course.days <= last:
            x = self._across.place(course.days)
            self._sheet.line(Mark.AXIS, x, _TOP, x, _FLOOR)
        if course.last_read > last:
            y = _TOP + 8
            self._sheet.path(Mark.MIX_ARROW, f"M{number(_RIGHT - 12)} {number(y)}h12l-4-3m4 3l-4 3")
        seen = [one[-1] for one in (course.steps, course.rounds) if one]
        if not course.over and seen and (newest := max(seen))[0] <= last:
            self._sheet.circle(Mark.TIP, self._across.within(newest[0]), self._y(newest[1]), 3)

    def _letters(self) -> None:
        course, ticks = self._course, []
        rows = ((("t", course.turned),), (("w", course.watered), ("+", course.added)))
        for number_, row in enumerate(rows):
            free, y = 0.0, 11.0 + 12 * number_
            for day, letter in sorted((day, letter) for letter, days in row for day in days if day <= self._frame.days):
                x = self._across.within(day)
                ticks.append(segment(x, _TOP - 6, x, _TOP - 1))
                if x >= free:
                    self._sheet.text(Mark.TEXT, x, y, letter, "middle")
                    free = x + _LETTER
                else:
                    self._sheet.path(Mark.PLAN_READ, f"M{number(x)} {number(y - 3)}h0")
        self._sheet.path(Mark.AXIS, "".join(dict.fromkeys(ticks)))

    def _held(self) -> None:
        """Write how long it held at the foot of the time in which it did, where a hot heap leaves room."""
        course = self._course
        if not course.held or not course.holds or course.holds[0][0] >= self._frame.days:
            return
        width = width_of(course.held, _SMALL)
        x = min(self._across.within(course.holds[0][0]) + 3, _RIGHT - width - 2)
        self._sheet.text(Mark.SMALL, max(x, _LEFT + 3), _FLOOR - 7, course.held, ground=True)


def _merged(steps: Sequence[Step], days: float) -> list[Step]:
    """Return steps of a line, several as one where there are more than can be seen."""
    shown = [one for one in steps if one[0] <= days]
    wide = days / _COLUMNS
    found: list[Step] = []
    column = -1
    for day, low, high in shown:
        here = int(day / wide)
        if here == column:
            _, before, above = found[-1]
            found[-1] = ((here + 0.5) * wide, min(low, before), max(high, above))
        else:
            found.append((day, low, high))
        column = here
    return found


def _runs(steps: Sequence[Step], days: float) -> list[list[Step]]:
    """Return steps in runs without a gap."""
    longest = max(GAP_DAYS, 2.1 * days / _COLUMNS)
    runs: list[list[Step]] = []
    for one in steps:
        if runs and one[0] - runs[-1][-1][0] <= longest:
            runs[-1].append(one)
        else:
            runs.append([one])
    return runs
