"""Free places on a sheet: where a label covers the fewest lines and no other label.

The sheet is divided into squares of 4 units, and drawn things mark the squares they touch. Of the places offered for a
label the one with the fewest marks wins, the first of equals.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.drawing.lettering import width_of

_SQUARE = 4.0
_LABEL_WEIGHT = 20


@dataclass(frozen=True, slots=True)
class Place:
    """A place for a label: its baseline's anchor point, and how the text stands to it (start, middle, end)."""

    x: float
    y: float
    anchor: str = "start"


class Clearing:
    """The taken squares of a sheet."""

    def __init__(self) -> None:
        self._taken: dict[tuple[int, int], int] = {}

    def mark_line(self, points: Sequence[tuple[float, float]]) -> None:
        """Mark the squares that a line runs through."""
        before = points[0] if points else (0.0, 0.0)
        for point in points:
            (x1, y1), (x2, y2) = before, point
            steps = int(max(abs(x2 - x1), abs(y2 - y1)) / _SQUARE) + 1
            for step in range(1, steps + 1):
                x, y = x1 + (x2 - x1) * step / steps, y1 + (y2 - y1) * step / steps
                self._taken[int(x // _SQUARE), int(y // _SQUARE)] = 1
            before = point

    def take(self, places: Iterable[Place], text: str, size: float) -> Place:
        """Choose the best place for a text, and mark its squares as taken.

        Args:
            places: Candidates, the preferred one first.
            text: The label.
            size: Font size, units.

        Returns:
            The candidate that covers the fewest marks; the first of equals.

        Raises:
            ValueError: No place was offered.
        """
        best = min(places, key=lambda place: self._cost(place, text, size))
        for square in self._squares(best, text, size):
            self._taken[square] = _LABEL_WEIGHT
        return best

    def _cost(self, place: Place, text: str, size: float) -> int:
        return sum(self._taken.get(square, 0) for square in self._squares(place, text, size))

    @staticmethod
    def _squares(place: Place, text: str, size: float) -> Iterable[tuple[int, int]]:
        width = width_of(text, size)
        left = place.x - {"start": 0.0, "middle": width / 2, "end": width}[place.anchor]
        columns = range(int((left - 2) // _SQUARE), int((left + width + 2) // _SQUARE) + 1)
        rows = range(int((place.y - size) // _SQUARE), int((place.y + 3) // _SQUARE) + 1)
        return ((column, row) for column in columns for row in rows)
