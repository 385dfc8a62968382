"""Foresees the changes of a turning: which of its rule's turnings it is, until when recovery lasts, when the next is due."""

from collections.abc import Iterator
from zoneinfo import ZoneInfo

from monitor.engine.context.batch_runs import BatchRun, followed_parts, progress_now, turning_waits
from monitor.engine.context.core import Core
from monitor.model.turnings import TOGETHER_MS, counted_firsts
from monitor.model.words import Method, RuleState
from monitor.model.work import Work
from monitor.model.work_kinds import turned_at
from monitor.notices import Progress, say_time
from monitor.piles import next_turning
from monitor.proof.rules import Days


def turning_ahead(core: Core, run: BatchRun, work: Work, now: int) -> Iterator[str]:
    """Yield the changes that a turning would make, a sentence each.

    Args:
        core: The engine's ports; asking changes nothing.
        run: The heap that is turned.
        work: The turning.
        now: Now, UTC ms.
    """
    zone = ZoneInfo(core.settings.site.time_zone)
    others = [one.work.time for one in core.state.works if turned_at(one.work) == work.place]
    first = max(one for one in counted_firsts([*others, work.time]) if one <= work.time)
    if first in others:
        until = say_time(first + TOGETHER_MS, now, zone)
        yield f"Turnings before {until} count as one with that of {say_time(first, now, zone)}."
    elif any(one > work.time for one in others):
        yield "The heap's record is worked out anew from there."
        return
    else:
        yield from _counts(core, run, work, now)
    of_rule = [part.recovery_ms for part, _ in followed_parts(run) if isinstance(part, Days)]
    ends = work.time + min([*of_rule, core.thresholds_of(run).recovery_ms])
    if ends > now:
        yield f"Until {say_time(ends, now, zone)} at the latest it may recover: a fall of its temperature does not count."


def _counts(core: Core, run: BatchRun, work: Work, now: int) -> Iterator[str]:
    """Yield which turning of its rule it is, and when the next is due; nothing where its rule wants none."""
    progress = progress_now(run)
    if run.method is not Method.TURNED or run.rule is RuleState.MET or run.rule_id == "none":
        return
    if progress is None or run.walk.first_hold is None:
        yield "It counts for its rule only after the heap's first instant at temperature."
        return
    needed = Progress.of(progress.values).turnings_needed
    if needed is None or not progress.wants_turnings:
        return
    waiting = 1 if turning_waits(run) else 0
    left = progress.turnings_left - waiting - 1
    if left < 0:
        return
    yield f"It is turning {needed - left} of {needed}, and counts when the heap is back at temperature."
    if left == 0:
        yield "Its rule wants no more after it."
        return
    due = next_turning(
        max(run.walk.first_hold, work.time), left, progress.days_left, progress.turnings_apart_ms, now,
        core.thresholds_of(run).turning_every_ms,
    )  # fmt: skip
    yield f"The next is due {say_time(max(due, now), now, ZoneInfo(core.settings.site.time_zone))}."
