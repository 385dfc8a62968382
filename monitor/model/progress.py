"""The port between a batch's tracker and the rule of its pile."""

from dataclasses import dataclass
from typing import Protocol

from monitor.model.words import RuleState


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleProgress:
    """A batch's progress with its rule, up to some instant of its own record.

    Attributes:
        state: Not begun, running or met.
        since: When that state began (for met: the exact instant at which the last condition was fulfilled), UTC ms.
        look_again: Earliest instant at which the state could change if nothing but time passes, or None.
        values: Plain numbers for people and programs, such as `days`, `days_needed`, `turnings`, `longest_run_h`.
        wants_turnings: Whether the rule still wants more turnings.
        turnings_left: Number of turnings it still wants.
        days_left: Number of days it still wants, None if it does not count days.
        turnings_apart_ms: Least time between two turnings that count, 0 if the rule does not say.
    """

    state: RuleState
    since: int | None
    look_again: int | None
    values: dict[str, int | float]
    wants_turnings: bool
    turnings_left: int = 0
    days_left: int | None = None
    turnings_apart_ms: int = 0


class RuleTracker(Protocol):
    """Receives a batch's record in order of the record's own time, and reports the rule's progress.

    Not safe for use in parallel. Every instant is at or after the one before. A beginning is reported at the first
    millisecond at which it holds, an end at the last at which it still held: a hold on at A and off at B is B - A
    long.
    """

    def proven(self, at: int, proven: bool) -> None:
        """Report that from `at` on the temperature of the coldest core probe is known, or no longer is."""

    def inside(self, at: int, inside: int) -> None:
        """Report inside which limits of the rule the batch is from `at` on: bit 0 is its first alternative, and so on."""

    def opened(self, at: int, turning: int) -> None:
        """Report that the probes felt the air from `at` on, for a turning logged at `turning`: its recovery begins here."""

    def turned(self, at: int) -> None:
        """Report a turning logged at `at`; every entry is reported, even one that does not count as a turning of its own."""

    def restart(self, at: int) -> None:
        """Report that new material came in at `at`: proof from before it counts no more."""

    def progress(self, at: int) -> RuleProgress:
        """Return the rule's progress if the record is known up to `at`."""
