"""The flags that become final without a reading, as a run of commits knows them in advance."""

from bisect import bisect_right
from collections.abc import Sequence

from monitor.conditioning import Conditioned, Conditioner, Still
from monitor.model.flags import Verdict


class KnownFlags:
    """Answers as the conditioner would at a key of the run; the caller moves it on. Implements `LateFlags`.

    Attributes:
        key: Everything before this is known.
        now: Deadlines up to here have been served, UTC ms.
    """

    def __init__(self, conditioner: Conditioner, run: Conditioned) -> None:
        """Stand at the beginning of a run, as the conditioner does until the run is over."""
        self.key, self.now = 0, -1
        self._conditioner, self._run = conditioner, run
        self._dues = run.dues()
        self._keys = [key for key, _ in self._dues]
        self._still: tuple[tuple[int, int], list[Still]] = (-1, -1), []
        self._deadlines = [one for one in run.said() if one.at >= 0]

    def changes(self) -> list[int]:
        """Return the keys at which `due` changes."""
        return self._keys

    def due(self) -> int | None:
        """See `LateFlags.due`."""
        place = bisect_right(self._keys, self.key - 1)
        return self._dues[place - 1][1] if place else None

    def expire(self, now: int) -> Sequence[Verdict]:
        """See `LateFlags.expire`; called at deadlines only."""
        return tuple(one.verdict for one in self._deadlines if one.at == now)

    def still(self) -> Sequence[Still]:
        """See `LateFlags.still`."""
        # A digest asks twice: whether words need it, and for the words.
        if self._still[0] != (self.key, self.now):
            found = self._run.still(self._conditioner, (self.key + 1) // 2, self.now)
            self._still = (self.key, self.now), found
        return self._still[1]
