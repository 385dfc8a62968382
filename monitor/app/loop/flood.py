"""Notices that far more comes than the yard's probes send, so that people hear of it.

Rules (our choice):
1. It begins when messages are lost, or when more than `ASIDE_A_MINUTE` values are set aside within a minute. Fewer cost nothing
   that anybody would notice, and a node that was unplugged from the yard's settings long ago may bring thousands at once.
2. It is over once ten minutes have passed in which neither was so.
3. What people read of it names no topic: a stranger may have chosen its words.
"""

from monitor.app.loop.loop_faults import fault, fault_over
from monitor.model.alarm_kinds import Alarm
from monitor.model.events import EventKind

ASIDE_A_MINUTE = 50_000
MINUTE_S = 60.0
CALM_S = 600.0

LOST = "some were lost for want of room"
STRANGE = f"over {ASIDE_A_MINUTE:,} in a minute could not be understood"


class Flood:
    """Watches how much is set aside; for the writer's thread alone."""

    def __init__(self, now_s: float) -> None:
        """Begin at monotonic seconds `now_s`; a flood that the record tells of is waited out from here."""
        self._minute_s = self._bad_s = now_s
        self._in_minute = 0
        self.total = 0
        """Values set aside and messages lost since the last flood was over."""

    def look(self, now_s: float, aside: int, lost: int, *, told: bool) -> list[tuple[EventKind, dict[str, object]]]:
        """Note what a turn could not take in, and return the event that tells of it, if there is news.

        Args:
            now_s: Monotonic seconds.
            aside: Values set aside.
            lost: Messages lost.
            told: Whether the record says that a flood is on.
        """
        if now_s - self._minute_s >= MINUTE_S:
            self._minute_s, self._in_minute = now_s, 0
        self._in_minute += aside
        self.total += aside + lost
        if lost or self._in_minute > ASIDE_A_MINUTE:
            self._bad_s = now_s
            return [] if told else [fault(Alarm.FLOOD, LOST if lost else STRANGE)]
        if now_s - self._bad_s < CALM_S:
            return []
        self.total = 0
        return [fault_over(Alarm.FLOOD)] if told else []
