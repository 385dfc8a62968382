"""An excursion: a value beyond a limit for long enough, by the readings' own time and by deadline.

Rules kept here:
1. A value counts from its reading on, until the next one says otherwise.
2. The delay must be filled without a break; only when it is filled does the deadband hold the excursion open.
3. The delay is filled by a later reading, or by a deadline that a fresh reading started. A late reading starts none, and
   stops none that a fresh one started.
"""

from dataclasses import dataclass
from enum import StrEnum


class Turn(StrEnum):
    """The change that a step brought."""

    BEGAN = "began"
    ENDED = "ended"


@dataclass(slots=True)
class Excursion:
    """State of one excursion.

    Attributes:
        since: Time of the first reading beyond the limit, or None.
        last: Time of the last reading beyond the limit, or None.
        confirmed: Whether the delay is filled.
        due: When the delay will be filled if nothing else is heard, or None.
    """

    since: int | None = None
    last: int | None = None
    confirmed: bool = False
    due: int | None = None

    def step(self, time: int, beyond: bool, held: bool, delay_ms: int, late: bool) -> Turn | None:
        """Take one reading.

        Args:
            time: The reading's own time, UTC ms.
            beyond: The value is beyond the limit.
            held: The value is beyond the limit less its deadband (always true if `beyond` is).
            delay_ms: Time that the value must stay beyond the limit.
            late: The reading arrived late, so that it starts no deadline.

        Returns:
            The change, or None if the excursion neither began nor ended.
        """
        if beyond:
            if self.since is None:
                self.since = time
            self.last = time if self.last is None else max(self.last, time)
            if self.confirmed:
                return None
            if time - self.since >= delay_ms:
                self.confirmed, self.due = True, None
                return Turn.BEGAN
            if not late:
                self.due = self.since + delay_ms
            return None
        if self.confirmed and held:
            return None
        was_confirmed = self.confirmed
        self.confirmed, self.due = False, None
        if not was_confirmed:
            self.since = self.last = None
            return None
        return Turn.ENDED

    def serve(self, now: int) -> Turn | None:
        """Fill the delay by deadline, if it is due."""
        if self.due is None or now < self.due:
            return None
        self.confirmed, self.due = True, None
        return Turn.BEGAN

    def pause(self) -> None:
        """Stop waiting, because the value is no longer known. A confirmed excursion stays; a waiting one is dropped."""
        self.due = None
        if not self.confirmed:
            self.since = self.last = None

    def resume(self, known: "Excursion") -> None:
        """Take over the state of another excursion: this one's end turned out to be wrong, or the other came from elsewhere."""
        self.since, self.last = known.since, known.last
        self.confirmed, self.due = known.confirmed, known.due

    def forget(self) -> None:
        """Return to the initial state, after an ending was reported or the place was emptied."""
        self.since = self.last = self.due = None
        self.confirmed = False
