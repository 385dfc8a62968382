"""The tracker says at every instant what the evaluator says of the record cut there; its state survives writing."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter

from monitor.model.progress import RuleTracker
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.words import RuleState
from monitor.proof.counting import hours
from monitor.proof.following import HoldState, HoldTracker
from monitor.proof.holdset import HoldBasis, HoldSet
from monitor.proof.intervals import FAR_AHEAD_MS, cut, normal
from monitor.proof.rules import (
    Alternative,
    Days,
    Join,
    Limits,
    Rule,
    Run,
    RunBeforeTurnings,
    Status,
    Total,
    Turnings,
    Window,
    Within,
    load_rule,
    rule_ids,
)
from monitor.proof.verdict import Outcome, Question, evaluate

STATE = TypeAdapter(HoldState)


def rule_of(*parts, join=Join.ALL, together=5):
    way = Alternative(limits=Limits(low_milli_c=55_000), parts=parts, join=join)
    return Rule(
        id="test", title="", jurisdiction="", section="", methods=(), feedstock="", wording="", source="",
        status=Status.SEEN, alternatives=(way,), together_ms=together,
    )  # fmt: skip


turnings_wanted = st.none() | st.builds(Turnings, count=st.integers(1, 3), apart_ms=st.sampled_from([0, 2, 9]))
runs = st.builds(Run, duration_ms=st.integers(1, 25), turnings=turnings_wanted)
totals = st.builds(Total, duration_ms=st.integers(1, 40), turnings=turnings_wanted)


def days(onset):
    return st.builds(
        Days,
        count=st.integers(1, 4),
        consecutive=st.booleans(),
        turnings=turnings_wanted,
        day_ms=st.just(8),
        least_ms=st.just(4),
        dark_ms=st.sampled_from([1, 2, 4]),
        recovery_ms=st.just(6),
        onset_ms=st.just(onset),
    )


GAPS = st.sampled_from([None, 1, 2, 50])
befores = st.builds(RunBeforeTurnings, duration_ms=st.integers(1, 25), count=st.integers(1, 3))
rules = st.builds(
    lambda parts, join, together: rule_of(*parts, join=join, together=together),
    # A rule of two parts has one onset, which the rule files cannot change: the tracker keeps the recoveries once.
    st.sampled_from([1, 3]).flatmap(
        lambda onset: st.lists(runs | totals | days(onset) | days(onset) | befores, min_size=1, max_size=2)
    ),
    st.sampled_from(Join),
    st.sampled_from([1, 5, 20]),
)


@st.composite
def records(draw):
    """A record as changes of three kinds in order of time, those at one instant in any order."""
    proven, hold, at = [], [], draw(st.integers(0, 3))
    for _ in range(draw(st.integers(1, 6))):
        end = at + draw(st.sampled_from([0, 1, 4, 12, 25, 40]))
        proven.append((at, end))
        own = at + draw(st.sampled_from([0, 0, 0, 1, 2]))
        while own <= end:
            stop = min(end, own + draw(st.sampled_from([0, 1, 6, 15, 30])))
            hold.append((own, stop))
            own = stop + draw(st.sampled_from([1, 1, 2, 5]))
        at = end + draw(st.sampled_from([1, 1, 3, 9]))
    turnings = draw(st.lists(st.integers(0, at), max_size=6))
    # Material often comes in with a turning.
    restarts = draw(st.lists(st.sampled_from([draw(st.integers(0, at)), *turnings]), max_size=1))
    begun = {when: max(0, when - draw(st.integers(0, 3))) for when in turnings if draw(st.booleans())}
    changes = [(when, "proven", on) for start, end in proven for when, on in ((start, True), (end, False))]
    changes += [(when, "inside", on) for start, end in hold for when, on in ((start, True), (end, False))]
    changes += [(since, "opened", when) for when, since in begun.items()]
    changes += [(when, "turned", True) for when in turnings] + [(when, "restart", True) for when in restarts]
    order = draw(st.randoms(use_true_random=False))
    keys = [order.random() for _ in changes]
    # At one instant what comes on is told before what goes off; turnings and restarts stand anywhere between.
    rows = sorted(zip(changes, keys, strict=True), key=lambda row: (row[0][0], row[1]))
    told = [row[0] for row in rows]
    places = [n for n, one in enumerate(told) if one[1] in ("proven", "inside")]
    ordered = sorted((told[n] for n in places), key=lambda one: (one[0], not one[2]))
    for n, one in zip(places, ordered, strict=True):
        told[n] = one
    return tuple(proven), tuple(hold), sorted(turnings), restarts, told, at + 12, begun


def tell(tracker, change):
    when, kind, on = change
    if kind in ("turned", "restart"):
        getattr(tracker, kind)(when)
    elif kind == "opened":
        tracker.opened(when, on)
    else:
        getattr(tracker, kind)(when, on)


def expected_at(rule, proven, hold, turnings, restarts, at, begun, gap):
    sets = HoldSet(basis=HoldBasis.COLDEST, proven=cut(normal(proven), 0, at), hold=cut(normal(hold), 0, at), probes=())
    return evaluate(
        Question(
            rule=rule,
            start=0,
            end=at,
            turnings=[t for t in turnings if t <= at],
            restarts=[r for r in restarts if r <= at],
            max_gap_ms=FAR_AHEAD_MS if gap is None else gap,
        ),
        [sets],
        falls=[(t, since) for t, since in begun.items() if t <= at],
    )


@settings(max_examples=150, deadline=None)
@given(rules, records(), GAPS, st.sets(st.integers(0, 150)), st.booleans())
def test_progress_equals_the_evaluation_of_the_record_cut_there(rule, record, gap, asked, write):
    proven, hold, turnings, restarts, told, end, begun = record
    tracker = HoldTracker(rule, max_gap_ms=gap)
    place = 0
    # Between a fall and the entry that says that it was a turning, only the tracker knows of it.
    known = (one for one in asked | {end} if not any(since <= one < when for when, since in begun.items()))
    for at in sorted(one for one in known if one <= end):
        while place < len(told) and told[place][0] <= at:
            tell(tracker, told[place])
            place += 1
        if write:
            tracker = HoldTracker(rule, STATE.validate_json(STATE.dump_json(tracker.state)))
        progress = tracker.progress(at)
        finding = expected_at(rule, proven, hold, turnings, restarts, at, begun, gap)
        assert progress.values == finding.values
        if finding.outcome is Outcome.MET:
            assert (progress.state, progress.since, progress.look_again) == (RuleState.MET, finding.met_at, None)
            assert not progress.wants_turnings
        else:
            assert progress.state is (RuleState.RUNNING if finding.hold else RuleState.NOT_BEGUN)
            if finding.hold:
                assert progress.since == finding.hold[0][0]
            if len(rule.live.parts) == 1:
                assert wants_of(progress) == wanted(rule.live.parts[0], finding.values)


def wants_of(progress):
    """What is still wanted, as the yard is told it: turnings, days beside them, and how far apart the turnings must be."""
    assert progress.wants_turnings == (progress.turnings_left > 0)
    return progress.turnings_left, progress.days_left, progress.turnings_apart_ms


def wanted(part, values):
    left = values.get("turnings_needed", 0) - values.get("turnings", 0)
    if left <= 0:
        return 0, None, 0
    apart = part.duration_ms if isinstance(part, RunBeforeTurnings) else part.turnings.apart_ms
    return left, max(part.count - values["days"], 0) if isinstance(part, Days) else None, apart


TWICE, FIVE = Turnings(count=2), Turnings(count=5, apart_ms=2 * DAY_MS)


@pytest.mark.parametrize(
    ("parts", "turned", "wants"),
    [
        # Of two parts the one that lacks more turnings decides how many, and the greater distance how far apart.
        ([Run(duration_ms=DAY_MS, turnings=FIVE), Days(count=9, turnings=TWICE)], [], (5, 8, 2 * DAY_MS)),
        ([Days(count=9, turnings=TWICE), Total(duration_ms=9 * DAY_MS, turnings=FIVE)], [1], (4, 8, 2 * DAY_MS)),
        ([Days(count=9, turnings=TWICE), Total(duration_ms=9 * DAY_MS, turnings=FIVE)], [1, 3], (3, None, 2 * DAY_MS)),
        ([Days(count=9, turnings=TWICE), Run(duration_ms=9 * DAY_MS)], [1, 3], (0, None, 0)),
        # A run before each of two turnings, and none that wants any.
        (
            [RunBeforeTurnings(duration_ms=3 * DAY_MS, count=2), Total(duration_ms=9 * DAY_MS)],
            [],
            (2, None, 3 * DAY_MS),
        ),
        # One that is met wants none any more.
        ([Total(duration_ms=DAY_MS, turnings=TWICE), Run(duration_ms=9 * DAY_MS)], [1, 3], (0, None, 0)),
        # More days than are asked for, while turnings are wanted still.
        ([Days(count=2, turnings=FIVE)], [1, 3], (3, 0, 2 * DAY_MS)),
    ],
)
def test_what_is_still_wanted_is_told(parts, turned, wants):
    tracker = HoldTracker(rule_of(*parts))
    tracker.restart(0)
    tracker.proven(0, True)
    tracker.inside(0, True)
    for day in turned:
        tracker.turned(day * DAY_MS)
    progress = tracker.progress(max([1, *turned]) * DAY_MS + HOUR_MS)
    assert progress.state is RuleState.RUNNING
    assert wants_of(progress) == wants


@settings(max_examples=140, deadline=None)
@given(rules, records(), st.integers(0, 60), st.sampled_from([0, 0, 1, 5]))
def test_nothing_changes_before_look_again_if_only_time_passes(rule, record, place, after):
    told = record[4]
    at = told[place % len(told)][0] + after
    tracker = HoldTracker(rule)
    for change in told:
        if change[0] <= at:
            tell(tracker, change)
    before = tracker.progress(at)
    until = before.look_again if before.look_again is not None else at + 400
    assert until > at
    for later in sorted({at + 1, (at + until) // 2, until - 1}):
        if at < later < until:
            # Asked in one stride or step by step, the tracker is as it would be without new tidings.
            assert tracker.progress(later).state is before.state
    if before.look_again is not None and all(isinstance(part, Run | Total) for part in rule.live.parts):
        # Days may still be lost by then; an unbroken hold is not.
        assert tracker.progress(until).since == until


@pytest.mark.parametrize(
    ("rule_id", "hold_ms"), [("us-112-54-static", 72 * HOUR_MS), ("de-bioabfv", 14 * DAY_MS)], ids=["run", "days"]
)
def test_look_again_is_the_very_instant_at_which_an_unbroken_hold_meets_the_rule(rule_id, hold_ms):
    tracker = HoldTracker(load_rule(rule_id))
    tracker.restart(0)
    assert tracker.progress(5).state is RuleState.NOT_BEGUN
    assert tracker.progress(5).since == 0
    tracker.proven(10, True)
    tracker.inside(1000, True)
    seen = tracker.progress(1000)
    assert (seen.state, seen.since, seen.look_again) == (RuleState.RUNNING, 1000, 1000 + hold_ms)
    assert tracker.progress(seen.look_again - 1).state is RuleState.RUNNING
    met = tracker.progress(seen.look_again)
    assert (met.state, met.since) == (RuleState.MET, 1000 + hold_ms)


@settings(max_examples=60, deadline=None)
@given(rules, records(), st.sampled_from(Join), st.integers(0, 150))
def test_a_part_that_is_not_followed_never_makes_it_met(rule, record, join, at):
    proven, hold, turnings, restarts, told, end, begun = record
    window = Window(span_ms=30, within=(Within(part=Run(duration_ms=5)), Within(part=Total(duration_ms=9))))
    mixed = rule_of(*rule.live.parts, window, join=join, together=rule.together_ms)
    at = min(at, end)
    tracker = HoldTracker(mixed)
    for change in told:
        if change[0] <= at:
            tell(tracker, change)
    progress = tracker.progress(at)
    assert progress.values["not_followed"] == 1
    met = progress.state is RuleState.MET
    assert not (met and join is Join.ALL)
    if met:
        assert begun or expected_at(mixed, proven, hold, turnings, restarts, at, {}, None).outcome is Outcome.MET


@pytest.mark.parametrize("rule_id", rule_ids())
def test_every_rule_can_be_followed_and_an_endless_hold_meets_what_can_be_told(rule_id):
    rule = load_rule(rule_id)
    tracker = HoldTracker(rule)
    tracker.restart(0)
    tracker.proven(0, True)
    tracker.inside(0, True)
    for day in range(3, 40, 3):
        tracker.turned(day * DAY_MS)
    progress = tracker.progress(40 * DAY_MS)
    followed = "not_followed" not in progress.values
    assert followed == (rule_id not in NOT_FOLLOWED)
    assert progress.state is (RuleState.MET if followed else RuleState.RUNNING)
    assert STATE.validate_json(STATE.dump_json(tracker.state)) == tracker.state


NOT_FOLLOWED = {
    "us-503-psrp",
    "us-503-vector-attraction",
    "us-503-time-temperature",
    "us-503-time-temperature-liquid",
    "us-503-time-temperature-small-particles",
}


def test_the_numbers_of_runs_before_turnings():
    tracker = HoldTracker(load_rule("au-as-4454-low"))
    tracker.restart(0)
    tracker.proven(0, True)
    tracker.inside(0, True)
    tracker.turned(3 * DAY_MS)
    tracker.turned(5 * DAY_MS)
    progress = tracker.progress(6 * DAY_MS)
    assert progress.values == {"needed_h": 72, "turnings": 1, "turnings_needed": 3, "turnings_logged": 2}
    assert progress.wants_turnings
    assert progress.look_again is None
    tracker.turned(8 * DAY_MS)
    tracker.turned(11 * DAY_MS)
    met = tracker.progress(12 * DAY_MS)
    assert (met.state, met.since, met.wants_turnings) == (RuleState.MET, 11 * DAY_MS, False)


def test_the_numbers_of_days_and_turnings():
    tracker = HoldTracker(load_rule("us-112-54-turned"))
    tracker.restart(0)
    tracker.proven(0, True)
    tracker.inside(0, True)
    for day in (3, 6):
        tracker.turned(day * DAY_MS)
        tracker.proven(day * DAY_MS, False)
        tracker.inside(day * DAY_MS, False)
        tracker.proven(day * DAY_MS + 2 * HOUR_MS, True)
        tracker.inside(day * DAY_MS + 9 * HOUR_MS, True)
    progress = tracker.progress(9 * DAY_MS + HOUR_MS)
    expected = {"days": 9, "days_needed": 15, "turnings": 2, "turnings_needed": 5, "turnings_logged": 2}
    assert progress.values == expected
    assert progress.wants_turnings
    assert progress.look_again is None


def test_the_numbers_of_a_run_and_of_a_total():
    tracker = HoldTracker(rule_of(Run(duration_ms=72 * HOUR_MS)))
    tracker.proven(0, True)
    tracker.inside(0, True)
    tracker.inside(61 * HOUR_MS + 1234, False)
    tracker.inside(62 * HOUR_MS, True)
    assert tracker.progress(63 * HOUR_MS + 1).values == {"run_h": 1, "longest_run_h": 61, "needed_h": 72}
    total = HoldTracker(rule_of(Total(duration_ms=10 * HOUR_MS)))
    total.proven(0, True)
    total.inside(0, True)
    assert total.progress(90 * 60_000).values == {"total_h": 1.5, "needed_h": 10}
    assert hours(72 * HOUR_MS - 1) == 71.999


def test_new_material_takes_everything_back():
    tracker: RuleTracker = HoldTracker(load_rule("us-112-54-static"))
    tracker.restart(0)
    tracker.proven(0, True)
    tracker.inside(0, True)
    assert tracker.progress(72 * HOUR_MS).state is RuleState.MET
    tracker.restart(80 * HOUR_MS)
    progress = tracker.progress(80 * HOUR_MS)
    assert (progress.state, progress.since) == (RuleState.RUNNING, 80 * HOUR_MS)
    assert progress.look_again == 152 * HOUR_MS


def test_the_written_state_is_plain_json():
    tracker = HoldTracker(load_rule("us-112-54-turned"))
    tracker.restart(7)
    tracker.proven(7, True)
    tracker.inside(9, True)
    tracker.turned(11)
    written = json.loads(STATE.dump_json(tracker.state))
    assert written["situation"]["turnings"] == [11]
    assert STATE.validate_python(written) == tracker.state


def test_it_stays_small_over_a_year_of_hesitation():
    tracker = HoldTracker(load_rule("us-112-54-turned"))
    tracker.restart(0)
    tracker.proven(0, True)
    at = 0
    while at < 365 * DAY_MS:
        tracker.inside(at, True)
        tracker.inside(at + 20 * 60_000, False)
        at += HOUR_MS
    assert len(STATE.dump_json(tracker.state)) < 5000


def test_time_cannot_run_backward():
    tracker = HoldTracker(load_rule("us-112-54-static"))
    tracker.proven(100, True)
    with pytest.raises(ValueError, match="knows the record up to 100 cannot be told of 99"):
        tracker.inside(99, True)


def test_a_state_of_another_rule_is_refused():
    with pytest.raises(ValueError, match="has 2 parts, rule us-112-54-static has 1"):
        HoldTracker(load_rule("us-112-54-static"), HoldTracker(rule_of(Run(duration_ms=1), Total(duration_ms=1))).state)


def test_a_turning_at_the_instant_of_meeting_counts_whichever_was_told_first():
    rule = rule_of(Days(count=1, turnings=Turnings(count=1)))
    found = []
    for asked_first in (True, False):
        tracker = HoldTracker(rule)
        tracker.proven(0, True)
        tracker.inside(0, True)
        tracker.turned(HOUR_MS)
        if asked_first:
            assert tracker.progress(DAY_MS).state is RuleState.MET
        tracker.turned(DAY_MS)
        found.append(tracker.progress(2 * DAY_MS))
    assert found[0] == found[1]
    assert found[0].values["turnings"] == 2


@pytest.mark.parametrize(("minutes", "counted"), [((0, 1, 2, 3, 4), 1), ((0, 359, 360, 719, 720), 3), ((0, 360), 2)])
def test_entries_less_than_six_hours_after_the_first_are_one_turning(minutes, counted):
    tracker = HoldTracker(load_rule("us-112-54-turned"))
    tracker.restart(0)
    tracker.proven(0, True)
    tracker.inside(0, True)
    for minute in minutes:
        tracker.turned(3 * DAY_MS + minute * 60_000)
    values = tracker.progress(9 * DAY_MS).values
    assert (values["turnings"], values["turnings_logged"]) == (counted, len(minutes))


@pytest.mark.parametrize(("entries", "logged"), [((2, 3, 3), 2), ((3,), 1), ((2, 2), 0), ((2, 2, 3), 1)])
def test_of_the_entries_before_material_came_in_only_those_of_its_own_instant_are_counted_on(entries, logged):
    tracker = HoldTracker(load_rule("us-112-54-turned"))
    tracker.restart(0)
    tracker.proven(0, True)
    tracker.inside(0, True)
    for day in entries:
        tracker.turned(day * DAY_MS)
    assert tracker.progress(3 * DAY_MS).values["turnings_logged"] == len(entries)
    tracker.restart(3 * DAY_MS)
    assert tracker.progress(4 * DAY_MS).values["turnings_logged"] == logged


def test_an_entry_after_material_came_in_is_no_turning_of_its_own_if_it_belongs_to_one_before():
    tracker = HoldTracker(load_rule("us-112-54-turned"))
    tracker.restart(0)
    tracker.proven(0, True)
    tracker.inside(0, True)
    tracker.turned(HOUR_MS)
    tracker.restart(2 * HOUR_MS)
    tracker.turned(3 * HOUR_MS)
    assert tracker.progress(4 * HOUR_MS).values["turnings"] == 0
    tracker.turned(7 * HOUR_MS)
    values = tracker.progress(9 * HOUR_MS).values
    assert (values["turnings"], values["turnings_logged"]) == (1, 2)


def test_a_day_that_failed_is_taken_back_once_the_stretch_in_which_it_ended_is_too_long():
    part = Days(count=1, day_ms=8, least_ms=4, dark_ms=1, recovery_ms=6, onset_ms=1)
    proven, hold = ((0, 12), (15, 30)), ((0, 3), (5, 11), (12, 12), (15, 30))
    tracker = HoldTracker(rule_of(part))
    changes = [(when, "proven", on) for start, end in proven for when, on in ((start, True), (end, False))]
    changes += [(when, "inside", on) for start, end in hold for when, on in ((start, True), (end, False))]
    for change in sorted(changes, key=lambda one: (one[0], not one[2])):
        tell(tracker, change)
    # The day from 5 to 13 failed at 11 and is unproven from 12 to 15: the next begins at 13, not at 12.
    finding = expected_at(rule_of(part), proven, hold, [], [], 40, {}, None)
    assert finding.met_at == 29
    assert tracker.progress(40).since == finding.met_at
