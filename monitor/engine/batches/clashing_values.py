"""Several values of one probe at one instant, as the record of a batch takes them; a certificate does the same.

1. Under a rule with lower limits alone, and with none, the coldest counts, since the others were hotter.
2. Under a rule with an upper limit no value is the worst in every way: none counts, and for the rule nothing is proven from the
   reading before to the one after.
3. Where the value that came first failed its checks, or another cannot be measured at all, none counts either, under any rule.
"""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from monitor.conditioning import temperature_of
from monitor.engine.context.core import Core
from monitor.model.settings import Probe


class Rivals(NamedTuple):
    """The further values of an instant.

    Attributes:
        low, high: The coldest and the hottest that can be measured, thousandths of °C; None where none can.
        all_possible: Whether each can be measured.
    """

    low: int | None
    high: int | None
    all_possible: bool

    def counted(self, milli: int, *, accepted: bool, upper: bool) -> tuple[int | None, bool]:
        """Say what counts of an instant.

        Args:
            milli: The value that came first, thousandths of °C.
            accepted: Whether it passed its checks.
            upper: Whether the batch's rule has an upper limit.

        Returns:
            The value that counts, or None; and whether nothing is proven around the instant.
        """
        if self.low is None:
            return None, accepted
        if not accepted or not self.all_possible:
            return None, True
        if upper and (self.low, self.high) != (milli, milli):
            return None, True
        return min(milli, self.low), False


def rivals_of(
    core: Core, series: Iterable[str], start: int, end: int, probes: Mapping[str, Probe]
) -> dict[tuple[int, str], Rivals]:
    """Return the further values of some series by (time, series).

    Args:
        core: Its record is looked at.
        series: Ids of probes, or names of spots that are read by hand.
        start: First instant, UTC ms.
        end: Last instant, included, UTC ms.
        probes: The settings of the probes.
    """
    found: dict[tuple[int, str], list[int | None]] = {}
    for reading in core.history.further(list(series), start, end) if core.history is not None else ():
        milli = temperature_of(reading, probes.get(reading.probe), core.settings.probe_thresholds)
        found.setdefault((reading.time, reading.probe), []).append(milli)
    return {key: _rivals(values) for key, values in found.items()}


def _rivals(values: list[int | None]) -> Rivals:
    known = [value for value in values if value is not None]
    return Rivals(min(known, default=None), max(known, default=None), len(known) == len(values))
