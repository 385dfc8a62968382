"""The seam between a batch's walk through its phases and the rule that it is held against."""

from dataclasses import dataclass
from typing import Any, Protocol

from monitor.model.words import RuleState


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleProgress:
    """How far a batch is with its rule, up to some instant of its own record.

    Attributes:
        state: Not begun, running or met.
        since: When that state began (for met: the exact instant at which the last condition was fulfilled), UTC ms.
        look_again: Earliest instant at which the state could change if nothing but time passes, or None.
        values: Plain numbers for people and programs, such as `days`, `days_needed`, `turnings`, `longest_run_h`.
        wants_turnings: Whether the rule still wants more turnings.
        turnings_left: How many more it wants.
        days_left: How many more days it wants, None where it does not count days.
        turnings_apart_ms: How long after one turning it counts the next, 0 where it does not say.
    """

    state: RuleState
    since: int | None
    look_again: int | None
    values: dict[str, Any]
    wants_turnings: bool
    turnings_left: int = 0
    days_left: int | None = None
    turnings_apart_ms: int = 0


class RuleTracker(Protocol):
    """What a batch's walk tells its rule, in order of the record's own time, and asks of it.

    Not safe for use in parallel. Every instant told is at or after the one before. What comes on is told at the first
    millisecond at which it is so, what goes off at the last at which it still was: a hold on at A and off at B is B - A
    long.
    """

    def proven(self, at: int, proven: bool) -> None:
        """Say that from `at` on the coldest core probe is proven (its temperature known), or no longer is."""

    def inside(self, at: int, inside: int) -> None:
        """Say inside which limits of the rule the batch is from `at` on: bit 0 stands for its first alternative, and so on."""

    def opened(self, at: int, turning: int) -> None:
        """Say that the probes felt the air from `at` on, for a turning logged at `turning`: its recovery begins here."""

    def turned(self, at: int) -> None:
        """Say that a turning was logged at `at`; every entry is told, also of one that is no turning of its own."""

    def restart(self, at: int) -> None:
        """Say that new material came in at `at`: what was proven before it counts no more."""

    def progress(self, at: int) -> RuleProgress:
        """Return where the rule stands when the record is known up to `at`."""
