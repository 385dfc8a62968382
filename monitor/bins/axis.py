"""One quantity of a bed: what its probes said last, the limits that this is held against, and the word for it.

A reading is held against these by `Bed`; many readings at a time are held against the spans of `Axis.quiet`.
"""

from collections.abc import Callable, Container, Mapping
from functools import partial
from typing import Any

from monitor.bins.bed_limits import damp_limits, heat_limits
from monitor.bins.conditions import Ladder, Word, damp_ladder, heat_ladder
from monitor.bins.state import BinState, Newest
from monitor.model.bounds import HIGHEST, LOWEST, Limit, Quiet, Side, Sides, quiet
from monitor.model.readings import is_hand
from monitor.model.thresholds import BinThresholds
from monitor.model.words import Dampness, Thermal


class Axis:
    """One quantity in a bin's state.

    Attributes:
        name: Its name in conditions.
        newest: By series, the newest reading.
        limits: Its excursions in the order in which they are stepped.
        judged: Whether a reading was compared with these limits; until then the excursions may belong to other limits.
    """

    name: str
    unknown: Word

    def __init__(
        self, state: BinState, newest: dict[str, Newest], limits: tuple[Limit, ...], ladder: Callable[..., Ladder]
    ) -> None:
        self.state, self.newest, self.limits = state, newest, limits
        self.judged = False
        self._ladder = ladder
        self._ladders: dict[tuple[Any, ...], Ladder] = {}
        self._calm: dict[Word | None, tuple[int, int]] = {}

    @property
    def word(self) -> Word | None:
        """The condition until now."""
        raise NotImplementedError

    def say(self, word: Word) -> None:
        """Store a new condition."""
        raise NotImplementedError

    def ladder(self) -> Ladder:
        """Return the ladder of words as it stands."""
        stands = self._stands()
        if stands not in self._ladders:
            self._ladders[stands] = self._ladder(*stands)
        return self._ladders[stands]

    def _stands(self) -> tuple[Any, ...]:
        """Return the values, besides the thresholds, on which the ladder depends."""
        raise NotImplementedError

    def sides(self) -> Sides:
        """Return the numbers that sum up all series."""
        return sides_of(self.newest)

    def speaking(self) -> dict[str, int]:
        """Return the newest values of the series that are not silent, thousandths."""
        return {name: one.milli for name, one in self.newest.items() if not one.silent}

    def word_by(self, series: Container[str]) -> Word:
        """Return the condition by the newest values of some series alone; nothing is stored."""
        if all(name in series for name in self.newest):
            return self.unknown if self.word is None else self.word
        return self._word_of(series, self.ladder())

    def _word_of(self, series: Container[str], ladder: Ladder) -> Word:
        known = sides_of({name: one for name, one in self.newest.items() if name in series})
        return self.unknown if known[Side.HIGH] == LOWEST else ladder.word(known)

    def quiet(self, *, words: bool = True) -> Quiet | None:
        """Return the readings that change nothing but newest values; None if any may. `words`: whether the condition counts."""
        keeps = self.ladder().keeps(self.word) if words or self.word is None else []
        return None if keeps is None else quiet(self.limits, keeps)

    def unmoved(self, series: str, time: int, milli: int) -> bool:
        """Take a reading if it changes nothing, as most do.

        While no excursion is under way, a value that alone would keep the present word leaves everything as it is.

        Args:
            series: Id of the series.
            time: The reading's own time, UTC ms.
            milli: Thousandths.

        Returns:
            False if the reading must be compared with everything.
        """
        known = self.newest.get(series)
        if known is None or known.silent or not self.judged:
            return False
        for one in self.limits:
            if one.excursion.since is not None:
                return False
        word = self.word
        if word not in self._calm:
            self._calm[word] = self._calm_values()
        least, most = self._calm[word]
        if not least <= milli <= most:
            return False
        known.time, known.milli = time, milli
        return True

    def _calm_values(self) -> tuple[int, int]:
        """Return the range of values that alone keep the present word and begin nothing, whatever the other series are."""
        keeps = self.ladder().keeps(self.word)
        if keeps is None:
            return HIGHEST, LOWEST
        spans = [*keeps, *(one.bound.within for one in self.limits)]
        return max(span.least for span in spans), min(span.most for span in spans)


class Heat(Axis):
    """The temperature of the bedding."""

    name = "thermal"
    unknown = Thermal.UNKNOWN

    def __init__(self, state: BinState, limits: BinThresholds) -> None:
        super().__init__(state, state.temperatures, heat_limits(state, limits), partial(heat_ladder, limits))

    @property
    def word(self) -> Thermal | None:
        """See `Axis.word`."""
        return self.state.thermal

    def say(self, word: Word) -> None:
        """See `Axis.say`."""
        self.state.thermal = Thermal(word)

    def cooler_word_by(self, series: Container[str]) -> Word:
        """Return the condition by some series alone where no value of theirs goes on overheating."""
        return self._word_of(series, self._ladder(None, False))

    def _stands(self) -> tuple[Any, ...]:
        return self.state.thermal, self.state.overheating.confirmed


class Damp(Axis):
    """The moisture of the bedding."""

    name = "moisture"
    unknown = Dampness.UNKNOWN

    def __init__(self, state: BinState, limits: BinThresholds) -> None:
        super().__init__(state, state.moistures, damp_limits(state, limits), partial(damp_ladder, limits))

    @property
    def word(self) -> Dampness | None:
        """See `Axis.word`."""
        return self.state.moisture

    def say(self, word: Word) -> None:
        """See `Axis.say`."""
        self.state.moisture = Dampness(word)

    def _stands(self) -> tuple[Any, ...]:
        return (self.state.moisture,)


def sides_of(newest: Mapping[str, Newest]) -> Sides:
    """Return the numbers that sum up several series.

    A silent series begins nothing, but its last value holds an alarm open: no alarm ends by silence. If all series must be
    beyond a limit, the probes decide, or the readings by hand if no probe is heard; neither ends an excursion that the
    other holds open.
    """
    last = [one.milli for one in newest.values()]
    spoken = [one.milli for one in newest.values() if not one.silent]
    every, held = min(spoken, default=LOWEST), min(spoken or last, default=LOWEST)
    if any(is_hand(name) for name in newest):
        groups = [[one for name, one in newest.items() if is_hand(name) is by_hand] for by_hand in (False, True)]
        speaking = [[one.milli for one in group if not one.silent] for group in groups]
        every = min(speaking[0] or speaking[1], default=LOWEST)
        held = max(
            min(now or [one.milli for one in group], default=LOWEST)
            for now, group in zip(speaking, groups, strict=True)
        )
    highest, lowest = max(spoken, default=LOWEST), min(spoken, default=HIGHEST)
    return highest, lowest, max(last, default=LOWEST), min(last, default=HIGHEST), every, held
