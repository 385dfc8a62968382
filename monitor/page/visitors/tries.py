"""Slows down whoever guesses: a few tries, then waits that double; for one address, and for all of them together."""

from collections import OrderedDict
from collections.abc import Callable

FREE_TRIES = 5
FIRST_WAIT_S = 2.0
LONGEST_WAIT_S = 900.0
FORGET_S = 3600.0
ALL_TRIES = 60
"""So many failures from anywhere within `FORGET_S`, and every address waits: guesses can come from many."""
_KEPT = 2_000


class Limiter:
    """Counts failures by address; for one thread at a time.

    Args:
        clock: Seconds that only rise.
    """

    def __init__(self, clock: Callable[[], float]) -> None:
        self._clock = clock
        self._failures: OrderedDict[str, tuple[int, float]] = OrderedDict()
        self._all: list[float] = []

    def wait_s(self, address: str) -> float:
        """Return for how long an address must still wait before its next try, seconds; 0 if it need not."""
        now = self._clock()
        self._all = [at for at in self._all if now - at < FORGET_S]
        count, last = self._failures.get(address, (0, 0.0))
        if count and now - last >= FORGET_S:
            del self._failures[address]
            count = 0
        own = self._left(count - FREE_TRIES, last, now)
        every = self._left(len(self._all) - ALL_TRIES, self._all[-1], now) if self._all else 0.0
        return max(own, every)

    def failed(self, address: str) -> None:
        """Note a failure."""
        now = self._clock()
        count = self._failures.pop(address, (0, 0.0))[0]
        self._failures[address] = (count + 1, now)
        self._all.append(now)
        if len(self._failures) > _KEPT:
            self._failures.popitem(last=False)

    def passed(self, address: str) -> None:
        """Forget an address that knew the password."""
        self._failures.pop(address, None)

    def _left(self, over: int, last: float, now: float) -> float:
        if over < 0:
            return 0.0
        return max(0.0, last + min(LONGEST_WAIT_S, FIRST_WAIT_S * 2.0 ** min(over, 30)) - now)
