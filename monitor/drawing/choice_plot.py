"""The choice among settings that were tried: needless messages across, warning time up, troubles caught as size.

Rules this module keeps:
1. Better is up and to the left, and the axes say so. No line joins the sets: nothing lies between two of them.
2. Size shows how many troubles a set caught, and a set that caught all is filled; today's set is a square, the chosen one a
   ring with a dot, both named. Sets listed beside the plot bear their number there. A set that caught nothing stands
   in a row of its own below the plot.
3. A thousand sets draw in a few tens of kilobytes: sets that fall on the same spot are drawn once.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from monitor.drawing.clearing import Clearing, Place
from monitor.drawing.ink import Ink, Mark
from monitor.drawing.lettering import clean, width_of
from monitor.drawing.scales import Scale, say_tick, ticks
from monitor.drawing.svg_sheet import FONT_SIZE, Sheet, number
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, show_duration


class ChoiceRole(StrEnum):
    """Whether a set of settings was merely tried, is today's, or is the chosen one."""

    TRIED = "tried"
    TODAY = "today"
    CHOSEN = "chosen"


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One set of settings and its results.

    Attributes:
        needless_milli: Needless messages in a week or month, thousandths.
        warning_ms: Median warning time before a trouble; negative after it began; None if none was caught.
        caught: Troubles caught.
        troubles: Troubles in all.
        label: Written beside it.
        row: Its number in the list beside the plot; "" if it is not listed.
        role: Tried, today's or chosen.
    """

    needless_milli: int
    warning_ms: int | None
    caught: int
    troubles: int
    label: str = ""
    row: str = ""
    role: ChoiceRole = ChoiceRole.TRIED


@dataclass(frozen=True, slots=True, kw_only=True)
class Choices:
    """The sets that were tried; `per` is the period over which needless messages are counted, such as `week`."""

    points: tuple[Choice, ...]
    per: str = "week"
    title: str = ""
    words: str = ""
    width: int = 720
    height: int = 420


@dataclass(frozen=True, slots=True)
class _Plot:
    x: Scale
    y: Scale
    none_at: float

    def place(self, point: Choice) -> tuple[float, float]:
        """Return the point at which a set is drawn."""
        y = self.none_at if point.warning_ms is None else self.y.place(point.warning_ms)
        return self.x.place(point.needless_milli / 1000), y


def choices(picture: Choices, ink: Ink = Ink.SCREEN) -> str:
    """Return the plot of the choice as SVG text."""
    sheet = Sheet(
        picture.width,
        picture.height,
        picture.title or "The choice among settings",
        picture.words or say_choices(picture),
    )
    plot = _plot(picture)
    _draw_axes(sheet, picture, plot)
    clearing = Clearing()
    _draw_tried(sheet, plot, picture.points, clearing)
    for point in picture.points:
        if point.row and point.role is ChoiceRole.TRIED:
            sheet.circle(Mark.ROW_DOT, *plot.place(point), _radius(point) + 1)
    for point in picture.points:
        x, y = plot.place(point)
        if point.role is ChoiceRole.TODAY:
            sheet.rect(Mark.TODAY, x - 6, y - 6, 12, 12)
        elif point.role is ChoiceRole.CHOSEN:
            sheet.circle(Mark.CHOSEN, x, y, 8)
            sheet.circle(Mark.TIP, x, y, 3)
    named = [point for point in picture.points if point.label or point.row or point.role is not ChoiceRole.TRIED]
    for point in sorted(named, key=lambda point: point.role is ChoiceRole.TRIED)[:14]:
        _name(sheet, picture, plot, point, clearing)
    return sheet.render(ink)


def _plot(picture: Choices) -> _Plot:
    needless = [point.needless_milli / 1000 for point in picture.points]
    warned = [point.warning_ms for point in picture.points if point.warning_ms is not None]
    none = len(warned) < len(picture.points)
    low, high = min([0, *warned]), max([HOUR_MS, *warned])
    spare = (high - low) * 0.08
    bottom = picture.height - 44.0 - (26 if none else 0)
    right = max([1.0, *needless]) * 1.05
    return _Plot(
        Scale(0, right, 58, picture.width - 14),
        Scale(low - (spare if low < 0 else 0), high + spare, bottom, 30),
        picture.height - 54.0,
    )


def _step_ms(span: float) -> int:
    steps = (
        5 * MINUTE_MS,
        15 * MINUTE_MS,
        30 * MINUTE_MS,
        HOUR_MS,
        2 * HOUR_MS,
        3 * HOUR_MS,
        6 * HOUR_MS,
        12 * HOUR_MS,
    )
    step = next((step for step in (*steps, DAY_MS, 2 * DAY_MS, 7 * DAY_MS) if span / step <= 7), 0)
    return step or int(span / 7 // DAY_MS + 1) * DAY_MS


def _draw_axes(sheet: Sheet, picture: Choices, plot: _Plot) -> None:
    x, y = plot.x, plot.y
    step = _step_ms(y.high - y.low)
    for at in range(int(-(-y.low // step)) * step, int(y.high) + 1, step):
        sheet.line(Mark.RULE, x.at_low, y.place(at), x.at_high, y.place(at))
        sheet.text(Mark.SMALL, x.at_low - 6, y.place(at) + 4, "0" if at == 0 else show_duration(at), "end")
    if y.low < 0:
        sheet.line(Mark.LIMIT, x.at_low, y.place(0), x.at_high, y.place(0))
        sheet.text(Mark.SMALL, x.at_high, y.place(0) + 13, "after the trouble began", "end", ground=True)
    sheet.line(Mark.AXIS, x.at_low, y.at_high, x.at_low, y.at_low)
    floor = picture.height - 40.0
    if plot.none_at > y.at_low:
        sheet.text(Mark.SMALL, x.at_low - 6, plot.none_at + 4, "none", "end")
    sheet.line(Mark.AXIS, x.at_low, floor, x.at_high, floor)
    for value in ticks(x.low, x.high, max(3, int((x.at_high - x.at_low) // 60))):
        sheet.line(Mark.AXIS, x.place(value), floor, x.place(value), floor + 5)
        sheet.text(Mark.SMALL, x.place(value), floor + 16, say_tick(value), "middle")
    sheet.text(Mark.SMALL, x.at_high, picture.height - 8, f"needless messages a {picture.per}: fewer is better", "end")
    sheet.text(Mark.SMALL, 4, 14, "warning before the trouble: longer is better")


def _share(point: Choice) -> float:
    return point.caught / point.troubles if point.troubles else 0.0


def _radius(point: Choice) -> float:
    return round(1.6 + 3.6 * _share(point), 1)


def _draw_tried(sheet: Sheet, plot: _Plot, points: Sequence[Choice], clearing: Clearing) -> None:
    """Draw the sets that were merely tried: filled if they caught every trouble, else rings that shrink with the share."""
    seen: set[tuple[int, int, int]] = set()
    grain = 1 if len(points) <= 400 else 3
    data: dict[Mark, list[str]] = {Mark.TRIED: [], Mark.TRIED_FULL: []}
    for point in points:
        x, y = plot.place(point)
        clearing.mark_line([(x - 3, y), (x + 3, y)])
        spot = (round(x / grain) * grain, round(y / grain) * grain, round(_share(point) * 5))
        if point.role is not ChoiceRole.TRIED or point.row or spot in seen:
            continue
        seen.add(spot)
        full = point.troubles > 0 and point.caught >= point.troubles
        r, wide = number(_radius(point)), number(2 * _radius(point))
        ring = f"M{number(spot[0] - _radius(point))} {spot[1]}a{r} {r} 0 1 0 {wide} 0a{r} {r} 0 1 0 -{wide} 0Z"
        data[Mark.TRIED_FULL if full else Mark.TRIED].append(ring)
    for mark, rings in data.items():
        sheet.path(mark, "".join(rings))


def _name(sheet: Sheet, picture: Choices, plot: _Plot, point: Choice, clearing: Clearing) -> None:
    role = "today's" if point.role is ChoiceRole.TODAY else ""
    named = ", ".join(part for part in (point.row, role) if part)
    words = clean(": ".join(part for part in (named, point.label) if part), 60)
    mark = Mark.TEXT if point.role is not ChoiceRole.TRIED else Mark.SMALL
    size, (x, y) = FONT_SIZE[mark], plot.place(point)
    wide = width_of(words, size)
    offered = [
        Place(x + 12, y + 4), Place(x - 12, y + 4, "end"), Place(x, y - 13, "middle"), Place(x, y + 22, "middle"),
        Place(x + 12, y - 12), Place(x + 12, y + 20), Place(x - 12, y - 12, "end"), Place(x - 12, y + 20, "end"),
        *(Place(x + aside, y + down) for down in (-22, -38, -56, 32, 48, 64) for aside in (-8, 16)),
    ]  # fmt: skip
    fitting = [place for place in offered if _fits(place, wide, picture)] or [Place(picture.width - 6, y - 13, "end")]
    place = clearing.take(fitting, words, size)
    if abs(place.y - y) > 24:
        sheet.line(
            Mark.LEADER, x, y - 8 if place.y < y else y + 8, place.x + 6, place.y + (3 if place.y < y else -size)
        )
    sheet.text(mark, place.x, place.y, words, place.anchor, ground=True)


def _fits(place: Place, wide: float, picture: Choices) -> bool:
    left = place.x - {"start": 0.0, "middle": wide / 2, "end": wide}[place.anchor]
    return left > 60 and left + wide < picture.width - 4 and 24 < place.y < picture.height - 42


def say_choices(picture: Choices) -> str:
    """Describe the plot of the choice in sentences."""
    said = [f"{sum(point.role is not ChoiceRole.TODAY for point in picture.points)} other settings were tried."]
    for point in picture.points:
        if point.role is not ChoiceRole.TRIED:
            name = "Today's settings" if point.role is ChoiceRole.TODAY else "The best where it was chosen"
            said.append(f"{name}: {_say_choice(point, picture.per)}.")
    rows = sum(bool(point.row) for point in picture.points)
    if rows:
        said.append(f"{rows} are told of in the list.")
    return " ".join(said)


def _say_choice(point: Choice, per: str) -> str:
    if point.warning_ms is None:
        warned = "none in time"
    else:
        warned = show_duration(abs(point.warning_ms)) + (" before" if point.warning_ms >= 0 else " after its start")
    needless = f"{point.needless_milli / 1000:.3g}"
    messages = "message" if needless == "1" else "messages"
    return f"caught {point.caught} of {point.troubles}, {warned}, {needless} needless {messages} a {per}"
