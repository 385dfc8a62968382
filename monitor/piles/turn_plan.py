"""Works out when the next turning of a batch is due, from the turnings and days that its rule still wants.

With n turnings and D days left, and the last turning (or the first hold instant, if that is later) at `last`:
max(last + the rule's own spacing or 1 d, min(last + 3 d, now + D/n)), and the last of them at least 1 d before the end. `now`
is the instant of the last change that lengthened the wait: a turning, material that came in, days that were
lost. Days that pass normally only bring the turning forward; otherwise it would recede before everybody who waits for it.

Source: yard-work contract, section 11 (our choice).
"""

from monitor.model.progress import RuleProgress
from monitor.model.times import DAY_MS
from monitor.piles.state import TurnPlan, WalkState


def plan_turning(state: WalkState, left: RuleProgress | None, at: int, every_ms: int) -> None:
    """Keep a batch's plan in step with its rule's wants at `at` (UTC ms).

    Args:
        state: The batch's walk; its plan is changed in place.
        left: The rule's progress if it still wants turnings, else None.
        at: The instant examined.
        every_ms: The longest wait after a turning (`turning_every`).
    """
    if left is None or state.first_hold is None:
        state.plan = TurnPlan()
        return
    before, last = state.plan, max(state.first_hold, state.turned_at or 0)
    turnings, days = left.turnings_left, left.days_left
    due = next_turning(last, turnings, days, left.turnings_apart_ms, at, every_ms)
    if (before.last, before.turnings) == (last, turnings) and before.at is not None and not _lost(before.days, days):
        due = min(due, before.at)
    state.plan = TurnPlan(at=due, last=last, turnings=turnings, days=days)


def next_turning(last: int, turnings: int, days: int | None, apart_ms: int, now: int, every_ms: int) -> int:
    """Work out when the next turning is due.

    Args:
        last: The last turning or the first hold instant, UTC ms.
        turnings: Number left, 1 or more.
        days: Days left, or None if the rule counts none.
        apart_ms: The rule's own spacing, 0 if it states none.
        now: The instant examined, UTC ms.
        every_ms: The longest wait after a turning.

    Returns:
        UTC ms; may lie in the past.
    """
    due = last + every_ms
    if days is not None:
        due = min(due, now + days * DAY_MS // turnings)
        if turnings == 1:
            due = min(due, now + (days - 1) * DAY_MS)  # the last turning comes at least a day before the end
    return max(last + (apart_ms or DAY_MS), due)


def _lost(before: int | None, days: int | None) -> bool:
    return before is not None and days is not None and days > before
