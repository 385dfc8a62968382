"""A bin over twelve months: each day's lowest and highest temperature as one band, days past a limit, moisture, food, harvests.

Rules this module keeps:
1. Bins that stand beside each other share the scale of temperature (`year_scale`), so that a warm bin looks warm.
2. A day without a reading is left blank.
3. A day past a limit has its stroke from the limit to what was read, and a tick in a row of its own, above for heat, below for
   cold: it is told from the others without its colour.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from monitor.drawing.ink import Ink, Mark
from monitor.drawing.lettering import width_of
from monitor.drawing.scales import Scale, Unit, room, say_tick, ticks
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, block, polyline, segment

YEAR_WIDTHS = (("wide", 460), ("narrow", 276))
"""The drawings of a band: the stylesheet's class, and the width, CSS px."""
_LEFT, _NAMES = 32.0, 50.0
_TOP, _FLOOR = 12.0, 100.0
_SMALL = FONT_SIZE[Mark.SMALL]
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_TICKS = 4
_NEAR_MILLI_K = 8_000
"""A limit is drawn where readings come as near as this; far from them it would flatten the band."""

Reach = Mapping[date, tuple[int, int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class YearBand:
    """A bin over some months; temperatures in thousandths of °C, moisture in thousandths of a percent.

    Attributes:
        first, last: The first and the last day.
        heat: The lowest and highest temperature of each day that has any.
        comfort: Between which temperatures worms are comfortable.
        hot, frost: The limits: from this on it is too hot; up to this it is close to freezing.
        hot_days, frost_days: The days past them.
        damp: The lowest and highest moisture of each day; empty: nobody knows.
        aim: Between which moistures the bed should be.
        fed: The food of each month (`2026-10`), as a share of the most of any month.
        taken: The harvests: the day, and the amount in words.
        title, words: For people who listen.
    """

    first: date
    last: date
    heat: Reach
    comfort: tuple[int, int]
    hot: int
    frost: int
    hot_days: Sequence[date] = ()
    frost_days: Sequence[date] = ()
    damp: Reach
    aim: tuple[int, int]
    fed: Mapping[str, float]
    taken: Sequence[tuple[date, str]] = ()
    title: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class YearScale:
    """The scales that bands beside each other share, so that their rows lie side by side.

    Attributes:
        low, high: The temperatures, in `unit`.
        unit: The unit in which they are shown.
        damp, taken: Whether there is a row for moisture, and one for harvests.
    """

    low: float
    high: float
    unit: Unit
    damp: bool = True
    taken: bool = True


def year_scale(bands: Iterable[YearBand], unit: Unit) -> YearScale:
    """Return the scale of some bands beside each other.

    Args:
        bands: The bins.
        unit: The unit of temperature.
    """
    seen: list[int] = []
    some = list(bands)
    for band in some:
        values = [value for both in band.heat.values() for value in both]
        seen += [*values, *band.comfort]
        seen += [band.hot] if not values or max(values) > band.hot - _NEAR_MILLI_K else []
        seen += [band.frost] if values and min(values) < band.frost + _NEAR_MILLI_K else []
    shown = [unit.shown(value) for value in seen] or [unit.shown(0), unit.shown(40_000)]
    low, high = room(min(shown), max(shown), 20)
    return YearScale(low, high, unit, any(one.damp for one in some), any(one.taken for one in some))


def year_band(band: YearBand, scale: YearScale, width: int, ink: Ink = Ink.SCREEN) -> str:
    """Return the band of a bin as SVG.

    Args:
        band: The bin.
        scale: The scale that it shares with those beside it.
        width: Its width, units.
        ink: Where its colours come from.
    """
    return _Band(band, scale, width).render(ink)


class _Band:
    """One band in the making."""

    def __init__(self, band: YearBand, scale: YearScale, width: int) -> None:
        self._band, self._scale, self._width = band, scale, width
        self._right = width - _NAMES
        days = (band.last - band.first).days + 1
        self._across = Scale(0, days, _LEFT, self._right)
        self._up = Scale(scale.low, scale.high, _FLOOR, _TOP)
        # From above: heat, moisture if it is known, food, harvests, the months.
        self._damp_floor = _FLOOR + (52 if scale.damp else 8)
        self._food_floor = self._damp_floor + 32
        self._axis = self._food_floor + (24 if scale.taken else 6)
        self._sheet = Sheet(width, self._axis + 34, band.title, band.words)

    def render(self, ink: Ink) -> str:
        """Draw all of it."""
        self._comfort()
        self._months()
        self._heat()
        if self._band.damp:
            self._damp()
        self._food()
        self._harvests()
        return self._sheet.render(ink)

    def _x(self, day: date) -> float:
        return self._across.within((day - self._band.first).days)

    def _y(self, milli: float) -> float:
        return self._up.within(self._scale.unit.shown(milli))

    def _name(self, y: float, words: str) -> None:
        self._sheet.text(Mark.SMALL, self._right + 4, y + 4, words)

    def _comfort(self) -> None:
        low, high = (self._y(value) for value in self._band.comfort)
        self._sheet.path(Mark.COMFORT, block(_LEFT, high, self._right, low))
        for value in ticks(self._scale.low, self._scale.high, _TICKS):
            y = self._up.place(value)
            self._sheet.line(Mark.RULE, _LEFT, y, self._right, y)
            self._sheet.text(Mark.SMALL, _LEFT - 4, y + 4, say_tick(value), "end")
        for edge in (low, high):
            self._sheet.line(Mark.COMFORT_EDGE, _LEFT, edge, self._right, edge)

    def _months(self) -> None:
        """Draw the months below, with a line up where each begins, and the years below them."""
        sheet, day, lines, free = self._sheet, self._band.first, [], 0.0
        while day <= self._band.last:
            following = date(day.year + day.month // 12, day.month % 12 + 1, 1)
            left, right = self._x(day), self._across.within((following - self._band.first).days)
            name = _MONTHS[day.month - 1]
            if width_of(name, _SMALL) > right - left - 1:
                name = name[:1]
            sheet.text(Mark.SMALL, (left + right) / 2, self._axis + 14, name, "middle")
            if day > self._band.first:
                lines.append(segment(left, _TOP, left, self._axis))
            if (day == self._band.first or day.month == 1) and left >= free:
                sheet.text(Mark.SMALL, left, self._axis + 29, str(day.year))
                free = left + width_of(str(day.year), _SMALL) + 6
            day = following
        sheet.path(Mark.RULE, "".join(lines))
        sheet.line(Mark.AXIS, _LEFT, self._axis, self._right, self._axis)

    def _heat(self) -> None:
        band = self._band
        self._sheet.path(Mark.YEAR_BAND, self._envelope(band.heat, self._y))
        for limit, days, mark, side in (
            (band.hot, band.hot_days, Mark.YEAR_HOT, 1),
            (band.frost, band.frost_days, Mark.YEAR_COLD, 0),
        ):
            shown = self._scale.unit.shown(limit)
            if not self._scale.low < shown < self._scale.high:
                continue
            y = self._up.place(shown)
            self._sheet.line(Mark.LIMIT, _LEFT, y, self._right, y)
            self._name(y, f"{shown:.0f} {'hot' if side else 'cold'}")
            past = {day: (limit, band.heat[day][1]) if side else (band.heat[day][0], limit) for day in days}
            row = 2.0 if side else _FLOOR + 2
            ticks_ = [
                block(left, row, max(right, left + 1.4), row + 6) for left, right in map(self._ends, _in_runs(days))
            ]
            self._sheet.path(mark, self._envelope(past, self._y) + "".join(ticks_))

    def _ends(self, days: Sequence[date]) -> tuple[float, float]:
        """Return where some days in a row begin and end."""
        return self._x(days[0]), self._across.within((days[-1] - self._band.first).days + 1)

    def _damp(self) -> None:
        band = self._band
        seen = [value for both in band.damp.values() for value in both]
        low, high = min(*seen, band.aim[0]), max(*seen, band.aim[1])
        scale = Scale(low, high, self._damp_floor, self._damp_floor - 36)
        foot, top = (scale.place(value) for value in band.aim)
        self._sheet.path(Mark.COMFORT, block(_LEFT, top, self._right, foot))
        for edge, value in ((foot, band.aim[0]), (top, band.aim[1])):
            self._sheet.line(Mark.COMFORT_EDGE, _LEFT, edge, self._right, edge)
            if value == band.aim[1] or foot - top > _SMALL:
                self._sheet.text(Mark.SMALL, _LEFT - 4, edge + 4, f"{value / 1000:.0f}", "end")
        self._sheet.path(Mark.YEAR_BAND, self._envelope(band.damp, scale.within))
        self._name((foot + top) / 2, "% moist")

    def _envelope(self, reach: Reach, y: Callable[[float], float]) -> str:
        """Return the band between the lowest and the highest of each day, a piece for each run of days."""
        data = []
        for days in _in_runs(sorted(reach)):
            left, right = self._ends(days)
            columns: dict[int, tuple[int, int]] = {}
            for day in days:
                column = int(self._x(day))
                low, high = reach[day]
                before = columns.get(column, (low, high))
                columns[column] = min(low, before[0]), max(high, before[1])
            xs = [left, *(min(max(column + 0.5, left), right) for column in columns), right]
            both = list(columns.values())
            both = [both[0], *both, both[-1]]
            # A day on which it hardly changed is still to be seen.
            tops = [(x, y(high) - 0.5) for x, (_, high) in zip(xs, both, strict=True)]
            feet = [(x, y(low) + 0.5) for x, (low, _) in zip(xs, both, strict=True)]
            data.append(polyline([*tops, *reversed(feet)]) + "Z")
        return "".join(data)

    def _food(self) -> None:
        floor, day, bars = self._food_floor, self._band.first, []
        while day <= self._band.last:
            following = date(day.year + day.month // 12, day.month % 12 + 1, 1)
            share = self._band.fed.get(f"{day:%Y-%m}", 0.0)
            left, right = self._x(day), self._across.within((following - self._band.first).days)
            if share > 0:
                bars.append(block(left + 2, floor - 24 * share, right - 2, floor))
            day = following
        self._sheet.line(Mark.RULE, _LEFT, floor, self._right, floor)
        self._sheet.path(Mark.FEED, "".join(bars))
        self._name(floor - 8, "food")

    def _harvests(self) -> None:
        if not self._band.taken:
            return
        y, free = self._food_floor + 16, 0.0
        marked = [self._x(day) for day, _ in self._band.taken]
        for x, (_, words) in zip(marked, self._band.taken, strict=True):
            self._sheet.path(Mark.HARVEST, f"M{x:.1f} {y - 9:.1f}l4 5-4 5-4-5Z")
            width = width_of(words, _SMALL)
            room = min((other for other in marked if other > x), default=self._right + 5) - 5
            at = x + 7 if x + 7 + width <= room else x - 7 - width
            if at >= free:
                self._sheet.text(Mark.SMALL, at, y, words)
            free = max(at + width if at >= free else 0, x + 5) + 3
        self._name(y - 4, "harvest")


def _in_runs(days: Sequence[date]) -> list[list[date]]:
    runs: list[list[date]] = []
    for day in days:
        if runs and day - runs[-1][-1] == timedelta(days=1):
            runs[-1].append(day)
        else:
            runs.append([day])
    return runs
