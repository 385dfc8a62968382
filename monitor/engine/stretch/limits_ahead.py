"""Readings of a run checked against limits: which is the first that is not quiet, and what excursions keep of quiet ones."""

from collections.abc import Iterable, Sequence

from monitor.engine.context.core import Core
from monitor.engine.stretch.curves import END, Curve, Stream
from monitor.engine.stretch.lane import Lane
from monitor.model.alarm_signals import AlarmSignal
from monitor.model.bounds import HIGHEST, NEVER, Limit, Quiet


class LimitsAhead:
    """A stream, and how many of its readings have been taken in.

    Attributes:
        stream: The readings.
        taken: How many.
    """

    def __init__(self, stream: Stream, silent: Sequence[int] = ()) -> None:
        """Begin before the first reading; `silent` holds the last values of silent probes."""
        self.stream, self.taken = stream, 0
        high, low = stream.high, stream.low
        last_high = Curve(high.values.clip(min=max(silent))) if silent else high
        last_low = Curve(low.values.clip(max=min(silent))) if silent else low
        # By `Side`. No run includes readings by hand, so the lowest of the probes is the lowest of all.
        self._sides = (high, low, last_high, last_low, low, low)

    def next_key(self, quiet: Quiet | None) -> int:
        """Return the key of the first reading that is not quiet (None: of the next one), or END."""
        index = self.taken if quiet is None else self._first(quiet)
        return int(self.stream.key[index]) if index < len(self.stream) else END

    def skip(self, key: int, limits: Iterable[Limit]) -> list[tuple[Lane, int]]:
        """Take in the quiet readings before a key; return the newest one's index by lane, nothing where there are none."""
        stream, start, end = self.stream, self.taken, self.stream.before(key)
        if end <= start:
            return []
        for limit in limits:
            excursion, (side, least, most) = limit.excursion, limit.bound.beyond
            if excursion.since is None:
                continue
            values = self._sides[side].values[start:end]
            beyond = values >= least if most == HIGHEST else values <= most
            if beyond.any():
                newest = int(stream.time[start:end][beyond].max())
                excursion.last = newest if excursion.last is None else max(excursion.last, newest)
        self.taken = end
        return stream.newest(end)

    def jump(self, key: int) -> None:
        """Note that the readings before a key were fed one by one."""
        self.taken = self.stream.before(key)

    @staticmethod
    def say_again(core: Core, place: str, signals: Iterable[AlarmSignal]) -> None:
        """Give alarms that are on already their newest numbers; nothing is told.

        Args:
            core: The engine's ports.
            place: Pile or bin.
            signals: The alarms that are on, with their numbers.
        """
        for one in signals:
            core.alarms.begins(
                place, one.alarm, since=one.since, last=one.last, probe=one.probe, values=one.values, stage=one.stage
            )

    def _first(self, quiet: Quiet) -> int:
        start, found = self.taken, END
        for side, least, most in quiet.spans:
            found = min(found, self._sides[side].outside(start, least, most))
        if quiet.until < NEVER:
            found = min(found, self.stream.first_at(start, quiet.until))
        return min(found, self.stream.first_prompt(start)) if quiet.waits else found
