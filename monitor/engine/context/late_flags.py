"""The port for flags that become final without a reading of their own."""

from collections.abc import Sequence
from typing import Protocol

from monitor.conditioning import Still
from monitor.model.flags import Verdict


class LateFlags(Protocol):
    """Flags of readings that wait for an answer, and probes that stand still; see `Conditioner`, which is the usual one."""

    def due(self) -> int | None:
        """Return when `expire` has verdicts to give, UTC ms, or None."""

    def expire(self, now: int) -> Sequence[Verdict]:
        """Return the verdicts of all waiting readings for which no answer can come any more at `now` (UTC ms)."""

    def still(self) -> Sequence[Still]:
        """Return the probes whose value has not changed for a day without being flagged for it, by id."""
