"""Slows down people who guess: a few free tries, then doubling waits, for each address and for all together."""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import count

from cachetools import TTLCache

FREE_TRIES = 5
FIRST_WAIT_S = 2.0
LONGEST_WAIT_S = 900.0
FORGET_S = 3600.0
ALL_TRIES = 60
"""After so many failures within `FORGET_S` every address waits, because guesses can come from many."""
_KEPT = 2_000


@dataclass(frozen=True, slots=True)
class _Failed:
    """The failures of an address: how many, and when the last was (seconds)."""

    times: int
    last: float


class Tries:
    """Counts failures by address; for one thread at a time.

    Args:
        clock: Returns seconds that only rise.
    """

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._by_address: TTLCache[str, _Failed] = TTLCache(_KEPT, FORGET_S, clock)
        self._all: TTLCache[int, float] = TTLCache(_KEPT, FORGET_S, clock)
        self._numbers = count()

    def wait_s(self, address: str) -> float:
        """Return how long an address must still wait before its next try, seconds; 0 if it may try now."""
        own = self._by_address.get(address, _Failed(0, 0.0))
        every = list(self._all.values())
        waits = [_until(own.times - FREE_TRIES, own.last)]
        if every:
            waits.append(_until(len(every) - ALL_TRIES, every[-1]))
        return max(0.0, max(waits) - self._clock())

    def failed(self, address: str) -> None:
        """Note a failure."""
        times = self._by_address.get(address, _Failed(0, 0.0)).times + 1
        self._by_address[address] = _Failed(times, self._clock())
        self._all[next(self._numbers)] = self._clock()

    def passed(self, address: str) -> None:
        """Forget the failures of an address that gave the right password."""
        self._by_address.pop(address, None)


def _until(over: int, last: float) -> float:
    """Return when a wait ends that began with a failure at `last` (seconds), `over` failures beyond the free ones."""
    return last + min(LONGEST_WAIT_S, FIRST_WAIT_S * 2.0 ** min(over, 30)) if over >= 0 else 0.0
