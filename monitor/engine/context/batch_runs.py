"""One batch as the engine keeps it: its rule, the state of its walk, and the progress under the rule."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache

from monitor.material import HeatStatus, status_of_record
from monitor.model.copying import copy_of
from monitor.model.progress import RuleProgress
from monitor.model.thresholds import RULE_GAP_MS, PileThresholds
from monitor.model.words import Method, RuleState
from monitor.piles import Batch, HoldLimits, Walk, WalkState
from monitor.proof.counting import counted_turnings
from monitor.proof.following import HoldState, HoldTracker, PartState, RuleFollower, followed
from monitor.proof.rules import Days, Part, Rule, Run, RunBeforeTurnings, find_rule, parse_rule, turnings_of


@dataclass(slots=True)
class BatchRun:
    """A batch under watch.

    Attributes:
        batch: Its id.
        home: The pile where it was built; its thresholds, rule and method are that pile's.
        built: When it was built, UTC ms.
        rule_id, method: Those of `home`; a batch keeps them.
        walk: Where its walk through the phases stands.
        hold: Where its rule's tracker stands, None with rule `none`.
        rule: The rule's state as it was last told.
        rule_text: Text of its rule where that is one of the site's own; kept, so that a batch keeps its rule.
        by_reading: Whether its first reading, not a person, says when it was built.
        touched: The earliest instant of its record that was changed since it was last worked out, or None.
    """

    batch: str
    home: str
    built: int
    rule_id: str
    method: Method
    walk: WalkState
    hold: HoldState | None = None
    rule: RuleState = RuleState.NOT_BEGUN
    by_reading: bool = False
    touched: int | None = None
    falls: dict[int, int] = field(default_factory=dict)
    """Where the fall began that belongs to a turning (`model.turnings`), by when that was logged, UTC ms."""
    tellings: list[str] = field(default_factory=list)
    """Notices of this batch that are told only once (`holding`, `rule-met`)."""
    rule_text: str = ""
    round_first: int | None = None
    """When the newest round by hand began; `round_last`: when its newest reading was taken."""
    round_last: int | None = None


def run_from_book(book: Mapping[str, Batch], batch: str, rule_text: str) -> BatchRun:
    """Return a fresh run of a batch, made from the book.

    Args:
        book: All batches by id.
        batch: The id.
        rule_text: Text of its rule where that is one of the site's own, else "".

    Raises:
        KeyError: There is no such batch.
    """
    found = book[batch]
    first = found
    while first.parent in book:
        first = book[first.parent]
    return BatchRun(
        batch=batch,
        home=first.spans[0].pile,
        built=found.built,
        rule_id=found.rule,
        method=found.method,
        walk=WalkState.fresh(found.built),
        rule_text=rule_text,
    )


@cache
def rule_named(rule_id: str) -> Rule | None:
    """Return a rule by its id, or None for `none`."""
    return find_rule(rule_id)


@cache
def _own_rule(text: str, rule_id: str) -> Rule:
    return parse_rule(text, f"{rule_id}.toml", rule_id)


def rule_of(run: BatchRun) -> Rule | None:
    """Return a batch's rule, or None for `none`."""
    return _own_rule(run.rule_text, run.rule_id) if run.rule_text else rule_named(run.rule_id)


def has_upper_limit(run: BatchRun) -> bool:
    """Return whether heat can be too much for the rule of a batch."""
    rule = rule_of(run)
    return rule is not None and rule.has_upper_limit


def hold_milli(run: BatchRun, thresholds: PileThresholds) -> int:
    """Return the batch's hold temperature, thousandths of °C."""
    rule = rule_of(run)
    return rule.hold_milli_c if rule is not None else thresholds.hold_milli_c


def tracker_now(run: BatchRun) -> RuleFollower | None:
    """Return a tracker of its own, brought to the walk's present instant, or None without a rule.

    The run's own tracker is asked only when the rule's state could change; its last answer may be days old.
    """
    rule = rule_of(run)
    if rule is None or run.hold is None:
        return None
    tracker = RuleFollower(rule, copy_of(run.hold))
    known = tracker.state.situation.now
    tracker.progress(run.walk.now if known is None else max(run.walk.now, known))
    void = run.walk.void_at
    if void is not None and void >= (tracker.state.situation.now or void):
        # What came in is known before the record has come to it.
        tracker.restart(void)
    return tracker


def progress_now(run: BatchRun) -> RuleProgress | None:
    """Return the batch's progress under its rule at its walk's present instant, or None without a rule or a hold."""
    tracker = tracker_now(run)
    return run.walk.progress if tracker is None else tracker.progress(_known_until(tracker))


def nearest_way(run: BatchRun) -> HoldTracker | None:
    """Return the tracker of that alternative of its rule to which a batch is nearest; None before it ever held."""
    follower = tracker_now(run)
    return None if follower is None else follower.nearest(_known_until(follower))[0]


def _known_until(follower: RuleFollower) -> int:
    """Return up to when a tracker that was asked for progress has followed the record, UTC ms."""
    known = follower.state.situation.now
    assert known is not None
    return known


def followed_parts(run: BatchRun) -> list[tuple[Part, PartState]]:
    """Return the parts of the alternative that a batch is nearest to fulfilling, each with its progress."""
    nearest = nearest_way(run)
    return [] if nearest is None else list(zip(nearest.parts, nearest.state.parts, strict=True))


def turning_waits(run: BatchRun) -> bool:
    """Return whether a logged turning will count as soon as the batch is at temperature again."""
    nearest = nearest_way(run) if run.walk.recovering else None
    if nearest is None:
        return False
    turnings = nearest.state.situation.turnings
    return any(
        own.met_at is None
        and own.span is not None
        and len(counted_turnings(turnings, turnings_of(part), own.span, run.walk.now)) > own.turnings
        for part, own in zip(nearest.parts, nearest.state.parts, strict=True)
    )


def heat_status(run: BatchRun) -> HeatStatus:
    """Return the heat status of a batch's material under its rule, as far as it was told."""
    void = run.walk.void or run.walk.void_told
    return status_of_record(met=run.rule is RuleState.MET, holding=run.rule is RuleState.RUNNING, held_before=void)


def open_walk(run: BatchRun, thresholds: PileThresholds) -> Walk:
    """Return a walk (with its tracker) that works on the run's own state."""
    rule = rule_of(run)
    if rule is None:
        return Walk(run.walk, HoldLimits(hold_milli_c=thresholds.hold_milli_c), thresholds, run.method, None)
    tracker = RuleFollower(rule, run.hold, max_gap_ms=min(thresholds.max_gap_ms, RULE_GAP_MS))
    run.hold = tracker.state
    first, *others = (
        HoldLimits(hold_milli_c=way.limits.low_milli_c, strict=way.limits.strict, upper_milli_c=way.limits.high_milli_c)
        for way in followed(rule)
    )
    return Walk(run.walk, replace(first, others=tuple(others)), thresholds, run.method, tracker)


def lost_by_break(run: BatchRun) -> tuple[int, bool]:
    """Return the progress that a broken chain of rounds costs: how many days, and whether unbroken hours.

    Days that need not follow one another, and hours that are summed, stay.
    """
    days, hours = 0, False
    for part, own in followed_parts(run):
        if own.met_at is not None:
            continue
        if isinstance(part, Days) and part.consecutive and own.days:
            days = max(own.days, days)
        elif isinstance(part, Run | RunBeforeTurnings):
            hours = True
    return days, hours
