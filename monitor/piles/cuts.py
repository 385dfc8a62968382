"""The limits that a temperature has passed, and the whole millisecond at which a straight line passes each.

A limit is a *cut*: `(milli, False)` is passed by a value at or above it, `(milli, True)` only by a value above it. The
cuts are ordered, so that a probe's value shrinks to one small number, its *level*: how many cuts it has passed.
Every signal of a batch is a comparison of levels, and a reading that leaves the level alone changes nothing.

Crossings are exact (`model.crossings`). A level holds from its instant on; at each whole millisecond the level is that
of the line's true value then, so both "at or above" and "below" begin and end on the right millisecond.
"""

from bisect import bisect_right
from collections.abc import Iterable

from monitor.model.crossings import first_above, first_at_or_above, last_above, last_at_or_above

Cut = tuple[int, bool]
"""A limit in thousandths of a degree Celsius, and whether it must be exceeded (True) or only reached (False)."""

UNPROVEN = -1
"""Level of a probe in service whose temperature is not known."""

ABSENT = -2
"""Level of a probe in service that lags so far behind the others that it no longer holds them back."""

FAR = 1 << 40
"""Beyond every temperature: the open end of a band."""


class Cuts:
    """An ordered list of cuts; levels run from 0 (below all) to the number of cuts."""

    __slots__ = ("_cuts", "_passes")

    def __init__(self, cuts: Iterable[Cut]) -> None:
        self._cuts = sorted(set(cuts))
        self._passes = [limit + above for limit, above in self._cuts]

    def need(self, limit: int, above: bool = False) -> int:
        """Return the lowest level at which the cut is passed.

        Raises:
            ValueError: There is no such cut.
        """
        return self._cuts.index((limit, above)) + 1

    def level(self, milli: int) -> int:
        """Return the number of cuts that a value has passed."""
        return bisect_right(self._passes, milli)

    @property
    def passes(self) -> list[int]:
        """The lowest value that passes each cut, in order."""
        return self._passes

    def band(self, level: int) -> tuple[int, int]:
        """Return the values `low <= value < high` that have this level."""
        low = self._passes[level - 1] if level else -FAR
        high = self._passes[level] if level < len(self._passes) else FAR
        return low, high

    def crossings(self, start: int, first: int, end: int, last: int) -> list[tuple[int, int]]:
        """Find the changes of level on a straight line.

        Args:
            start: Time at which the line starts, UTC ms.
            first: Its value there, thousandths of a degree Celsius.
            end: Time at which it ends, UTC ms; later than `start`.
            last: Its value there, thousandths of a degree Celsius.

        Returns:
            (instant, level from then on) for each change in (start, end], in order.
        """
        before, after = self.level(first), self.level(last)
        found: list[tuple[int, int]] = []
        if after > before:
            for index in range(before, after):
                limit, above = self._cuts[index]
                rise = first_above if above else first_at_or_above
                _note(found, rise(start, first, end, last, limit), index + 1)
        else:
            for index in range(before - 1, after - 1, -1):
                limit, above = self._cuts[index]
                fall = last_above if above else last_at_or_above
                _note(found, fall(start, first, end, last, limit) + 1, index)
        return found


def _note(found: list[tuple[int, int]], at: int, level: int) -> None:
    # If the line passes two cuts within one millisecond, only the second level ever holds.
    if found and found[-1][0] == at:
        found[-1] = (at, level)
    else:
        found.append((at, level))
