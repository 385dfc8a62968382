"""A small trace of one probe for a list of places: no axis, no text; a band for comfort, a dot at the newest reading."""

from dataclasses import dataclass

from monitor.drawing.ink import Ink, Mark
from monitor.drawing.plot import Line
from monitor.drawing.scales import Scale, Unit, room
from monitor.drawing.svg_sheet import Sheet, polyline
from monitor.drawing.thinning import Thinned, thin
from monitor.model.times import show_duration


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """A small trace.

    Attributes:
        start: Its beginning, UTC ms.
        end: Its end, UTC ms.
        line: The probe's readings.
        unit: Unit of the values in its description.
        low_milli: Lower end of comfort, thousandths, or None.
        high_milli: Upper end of comfort, or None.
        limit_milli: A limit to draw across, or None.
        title: Its title; "" takes the line's name.
        words: Its description; "" makes one.
        width: Size across, units.
        height: Size down, units.
    """

    start: int
    end: int
    line: Line
    unit: Unit
    low_milli: int | None = None
    high_milli: int | None = None
    limit_milli: int | None = None
    title: str = ""
    words: str = ""
    width: int = 120
    height: int = 28


def trace(picture: Trace, ink: Ink = Ink.SCREEN) -> str:
    """Return a small trace as SVG text.

    Raises:
        ValueError: It ends before it starts.
    """
    if picture.end <= picture.start:
        raise ValueError(f"a trace cannot start at {picture.start} and end at {picture.end}")
    line = picture.line
    thinned = thin(
        line.times, line.milli, start=picture.start, end=picture.end,
        columns=max(20, picture.width // 2), max_gap_ms=line.max_gap_ms,
    )  # fmt: skip
    sheet = Sheet(picture.width, picture.height, picture.title or line.name, picture.words or _say(picture, thinned))
    marked = [level for level in (picture.low_milli, picture.high_milli, picture.limit_milli) if level is not None]
    levels = (
        [*marked, *(int(edge) for edge in (thinned.milli.min(), thinned.milli.max()))] if len(thinned.milli) else marked
    )
    low, high = room(min(levels, default=0), max(levels, default=1000), 3000)
    x, y = Scale(picture.start, picture.end, 1, picture.width - 4), Scale(low, high, picture.height - 2, 2)
    if picture.low_milli is not None or picture.high_milli is not None:
        bottom = y.at_low if picture.low_milli is None else y.place(picture.low_milli)
        top = y.at_high if picture.high_milli is None else y.place(picture.high_milli)
        sheet.rect(Mark.COMFORT, 1, top, picture.width - 5, max(bottom - top, 0))
    if picture.limit_milli is not None:
        sheet.line(Mark.LIMIT, 1, y.place(picture.limit_milli), picture.width - 4, y.place(picture.limit_milli))
    runs = [[(x.place(t), y.place(v)) for t, v in zip(*run, strict=True)] for run in thinned.runs()]
    runs = [run if len(run) > 1 else [(run[0][0] - 0.5, run[0][1]), (run[0][0] + 0.5, run[0][1])] for run in runs]
    sheet.path(Mark.PROBE_1, "".join(map(polyline, runs)))
    if runs:
        sheet.circle(Mark.TIP, *runs[-1][-1], 2)
    return sheet.render(ink)


def _say(picture: Trace, thinned: Thinned) -> str:
    if not len(thinned.milli):
        return "No readings."
    low, high, last = (
        picture.unit.say(int(value)) for value in (thinned.milli.min(), thinned.milli.max(), thinned.milli[-1])
    )
    return f"Over {show_duration(picture.end - picture.start)}: {low} to {high}, last {last}."
