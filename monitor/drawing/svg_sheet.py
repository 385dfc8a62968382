"""A sheet to draw on: the few SVG elements of a picture, written as text.

Rules this module keeps:
1. Plain SVG 1.1 that a browser under a strict policy, and the typesetter of the certificate, both take: no style, no
   script; ids and references only where drawings of one page share their lines.
2. Coordinates are rounded to a tenth of a unit, so the same picture is the same text everywhere.
3. Text is cleaned and escaped here and nowhere else. A picture describes itself in words.
"""

from collections.abc import Iterable, Mapping
from itertools import pairwise

from monitor.drawing.ink import Ink, Mark, inline
from monitor.drawing.lettering import clean, escaped, width_of

FONT_SIZE: dict[Mark, int] = {
    Mark.TEXT: 12,
    Mark.SMALL: 12,
    Mark.STRONG: 13,
    Mark.NOTE_TEXT: 12,
    Mark.LABEL_WORDS: 11,
    Mark.SLIP_NAME: 28,
}
"""Size of each kind of text, units; a test compares it with the ink. None on a screen is below 12, so that the letters of a
picture shown at its drawn size or larger can be read; the words of a label are for paper, where a unit is larger."""

WORDS_LIMIT = 2_000
"""Most characters kept of a picture's description."""


def number(value: float) -> str:
    """Return a coordinate with at most one decimal and no superfluous zeros: `12`, `0.5`, `-3.1`."""
    text = f"{value:.1f}"
    if text.endswith(".0"):
        text = text[:-2]
    return "0" if text == "-0" else text


def polyline(points: Iterable[tuple[float, float]]) -> str:
    """Return path data through points, the first absolute, the others as steps: `M1 2l.5-3 4 0`; "" for none.

    Steps are taken between rounded places, so that no rounding adds up; they need two thirds of the bytes of places.
    """
    places = [(round(x * 10), round(y * 10)) for x, y in points]
    if not places:
        return ""
    text = [f"M{_tenths(places[0][0])} {_tenths(places[0][1])}"]
    mark = "l"
    for (x0, y0), (x1, y1) in pairwise(places):
        for step, before in ((_tenths(x1 - x0), mark), (_tenths(y1 - y0), " ")):
            # A minus sign separates two numbers as well as a space does.
            text.append(step if before == " " and step[0] == "-" else before + step)
        mark = " "
    return "".join(text)


def _tenths(value: int) -> str:
    """Return a number of tenths in its shortest form: `12`, `.5`, `-3.1`."""
    whole, tenth = divmod(abs(value), 10)
    sign = "-" if value < 0 else ""
    return f"{sign}{whole or (0 if not tenth else '')}" + (f".{tenth}" if tenth else "")


def segment(x1: float, y1: float, x2: float, y2: float) -> str:
    """Make one straight stroke.

    Args:
        x1: Start, units.
        y1: Start, units.
        x2: End, units.
        y2: End, units.

    Returns:
        Path data.
    """
    return f"M{number(x1)} {number(y1)}L{number(x2)} {number(y2)}"


def across(x1: float, y: float, x2: float) -> str:
    """Make a level stroke.

    Args:
        x1: Start, units.
        y: Height, units.
        x2: End, units.

    Returns:
        Path data.
    """
    return f"M{number(x1)} {number(y)}H{number(x2)}"


def down(x: float, y1: float, y2: float) -> str:
    """Make an upright stroke.

    Args:
        x: Place, units.
        y1: Start, units.
        y2: End, units.

    Returns:
        Path data.
    """
    return f"M{number(x)} {number(y1)}V{number(y2)}"


def block(x1: float, y1: float, x2: float, y2: float) -> str:
    """Make an upright rectangle.

    Args:
        x1: Left edge, units.
        y1: Upper edge, units.
        x2: Right edge, units.
        y2: Lower edge, units.

    Returns:
        Path data.
    """
    return f"M{number(x1)} {number(y1)}H{number(x2)}V{number(y2)}H{number(x1)}Z"


class Sheet:
    """One picture in the making; `width` is its size across, units."""

    def __init__(
        self,
        width: float,
        height: float,
        title: str,
        words: str,
        data: Mapping[str, str] | None = None,
        unit_mm: float = 0,
        *,
        stretched: bool = False,
        ids: tuple[str, str] = ("", ""),
    ) -> None:
        """Lay out an empty sheet.

        Args:
            width: Size across, units.
            height: Size down, units.
            title: A few words that name the picture.
            words: A description in sentences.
            data: Further `data-` attributes of the whole: name (without `data-`) -> value.
            unit_mm: Size of a unit on paper, mm; 0: on a screen, 1 px.
            stretched: Whether it takes the shape of its frame, for a picture without letters.
            ids: Its id on the page, and that of a drawing of the same page that says what it shows; "" for none.
        """
        self.width = width
        extra = ' preserveAspectRatio="none"' if stretched else ""
        extra += "".join(f' data-{name}="{escaped(value)}"' for name, value in (data or {}).items())
        size = f"{number(width)} {number(height)}"
        wide, high = size.split()
        if unit_mm:
            wide, high = f"{number(width * unit_mm)}mm", f"{number(height * unit_mm)}mm"
        said = escaped(". ".join(part for part in (clean(title).rstrip("."), words) if part), WORDS_LIMIT)
        own, named_by = ids
        label = f'aria-labelledby="{named_by}"' if named_by else f'aria-label="{said}"'
        label = f'id="{own}" {label}' if own else label
        self._parts = [
            f'<svg xmlns="http://www.w3.org/2000/svg" class="{Mark.DRAWING}" viewBox="0 0 {size}"',
            f' width="{wide}" height="{high}" role="img" {label}{extra}>',
        ]
        # On a screen the label says the same to whoever listens; a typesetter takes title and description.
        self._words = f"<title>{escaped(title)}</title>"
        self._words += f"<desc>{escaped(words, WORDS_LIMIT)}</desc>" if words else ""

    def _add(self, name: str, mark: Mark, attributes: str) -> None:
        self._parts.append(f'<{name} class="{mark}"{attributes}/>')

    def line(
        self, mark: Mark, x1: float, y1: float, x2: float, y2: float, out: str | None = None, fit: float | None = None
    ) -> None:
        """Draw a straight stroke.

        Args:
            mark: Its class name.
            x1: Start, units.
            y1: Start, units.
            x2: End, units.
            y2: End, units.
            out: Name of the series whose probe lay outside along this stroke, for scripts; None: it means no such thing.
            fit: The x from which that probe's readings count again, units.
        """
        ends = zip(("x1", "y1", "x2", "y2"), (x1, y1, x2, y2), strict=True)
        named = "" if out is None else f' data-out="{escaped(out)}"'
        named += "" if fit is None else f' data-fit="{number(fit)}"'
        self._add("line", mark, "".join(f' {name}="{number(value)}"' for name, value in ends) + named)

    def rect(self, mark: Mark, x: float, y: float, width: float, height: float, round_by: float = 0) -> None:
        """Draw an upright rectangle.

        Args:
            mark: Its class name.
            x: Left edge, units.
            y: Upper edge, units.
            width: Size across, units.
            height: Size down, units.
            round_by: Radius of its corners, units.
        """
        sides = zip(("x", "y", "width", "height"), (x, y, width, height), strict=True)
        rounded = f' rx="{number(round_by)}"' if round_by else ""
        self._add("rect", mark, "".join(f' {name}="{number(value)}"' for name, value in sides) + rounded)

    def circle(self, mark: Mark, x: float, y: float, radius: float) -> None:
        """Draw a circle.

        Args:
            mark: Its class name.
            x: Centre, units.
            y: Centre, units.
            radius: In units.
        """
        self._add("circle", mark, f' cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"')

    def path(self, mark: Mark, data: str, line: str | None = None) -> None:
        """Draw path data.

        Args:
            mark: Its class name.
            data: Path data; empty draws nothing.
            line: Name of the series it belongs to, for scripts; None: it is no series.
        """
        if data:
            named = "" if line is None else f' data-line="{escaped(line)}"'
            self._add("path", mark, f' d="{data}"{named}')

    def shared(self, mark: Mark, line: str, name: str, moved: str, data: str = "") -> None:
        """Draw a series whose path stands in one drawing of the page, and is only moved and stretched in the others.

        Args:
            mark: Its class name.
            line: Name of the series, for scripts.
            name: Id of the path on the page.
            moved: Its transformation; "" where it stands.
            data: Path data, where it stands; "" in the others.
        """
        if data:
            # A stroke keeps its thickness however it is stretched.
            self._parts.append(f'<defs><path id="{name}" d="{data}" vector-effect="non-scaling-stroke"/></defs>')
        where = f' transform="{moved}"' if moved else ""
        self._add("use", mark, f' href="#{name}"{where} data-line="{escaped(line)}"')

    def texts(self, mark: Mark, texts: Iterable[tuple[float, float, str]], anchor: str) -> None:
        """Write several texts of one kind, as `text` does; no paper is left bare behind them.

        Args:
            mark: Their class name.
            texts: Each as (x, baseline, text), units.
            anchor: Part of each text at its x: `start`, `middle` or `end`.
        """
        written = [
            f'<text x="{number(x)}" y="{number(y)}">{escaped(shown)}</text>'
            for x, y, text in texts
            if (shown := clean(text))
        ]
        if written:
            self._parts += [f'<g class="{mark}" text-anchor="{anchor}">', *written, "</g>"]

    def text(self, mark: Mark, x: float, y: float, text: str, anchor: str = "start", *, ground: bool = False) -> None:
        """Write text, cleaned and escaped; a text that is empty then draws nothing.

        Args:
            mark: Its class name, which sets its size.
            x: Anchor point, units.
            y: Baseline, units.
            text: Any text.
            anchor: Part of the text at x: `start`, `middle` or `end`.
            ground: Whether to leave bare paper behind it.
        """
        text = clean(text)
        if not text:
            return
        size = FONT_SIZE[mark]
        if ground:
            width = width_of(text, size)
            left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
            self.rect(Mark.GROUND, left - 2, y - size + 1, width + 4, size + 3)
        anchored = "" if anchor == "start" else f' text-anchor="{anchor}"'
        self._parts.append(f'<text class="{mark}" x="{number(x)}" y="{number(y)}"{anchored}>{escaped(text)}</text>')

    def render(self, ink: Ink) -> str:
        """Return the picture as SVG text."""
        words = self._words if ink is Ink.PRINT else ""
        return inline("".join([*self._parts[:2], words, *self._parts[2:], "</svg>"]), ink)
