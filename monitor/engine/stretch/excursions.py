"""One excursion over a stretch: up to where readings leave it as it is, and what it remembers of them."""

from typing import NamedTuple

from monitor.engine.stretch.curves import END, Curve, Stream
from monitor.model.excursions import Excursion


class Bound(NamedTuple):
    """What an excursion asks of a course.

    Attributes:
        excursion: The excursion.
        curve: The column that decides whether a value is beyond.
        held: The column that decides whether it is still held open.
        rises: Whether beyond is above (else below).
        limit: Beyond is > limit (rising), else < limit.
        release: Held is >= release (rising), else <= release.
        delay_ms: How long it must be beyond.
    """

    excursion: Excursion
    curve: Curve
    held: Curve
    rises: bool
    limit: int
    release: int
    delay_ms: int

    def quiet_until(self, stream: Stream, start: int, *, waits: bool = True) -> int:
        """Return the first index >= start of a reading that may change more than when it was last beyond.

        `waits` is whether it is waited for with a deadline, which only a prompt reading sets.
        """
        excursion = self.excursion
        if excursion.confirmed:
            return self.held.below(start, self.release) if self.rises else self.held.above(start, self.release)
        if excursion.since is None:
            return self._beyond(start)
        within = self.curve.below(start, self.limit + 1) if self.rises else self.curve.above(start, self.limit - 1)
        due = excursion.since + self.delay_ms
        filled = stream.first_at(start, due)
        # Where the settings have changed meanwhile, the next prompt reading moves the deadline.
        prompt = END if excursion.due == due or not waits else stream.first_prompt(start)
        return min(within, filled, prompt)

    def skip(self, stream: Stream, start: int, end: int) -> None:
        """Take in quiet readings `start <= index < end`."""
        excursion = self.excursion
        if excursion.since is None or start >= end:
            return
        values = self.curve.values[start:end]
        beyond = values > self.limit if self.rises else values < self.limit
        if beyond.any():
            newest = int(stream.time[start:end][beyond].max())
            excursion.last = newest if excursion.last is None else max(excursion.last, newest)

    def _beyond(self, start: int) -> int:
        return self.curve.above(start, self.limit) if self.rises else self.curve.below(start, self.limit)
