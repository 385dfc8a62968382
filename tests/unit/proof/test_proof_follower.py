"""Every way to fulfil a rule is followed: met as soon as one is, and until then told by the one that is nearest."""

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter

from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.words import RuleState
from monitor.proof.following import HoldState, RuleFollower, followed
from monitor.proof.holdset import HoldBasis, HoldSet
from monitor.proof.intervals import FAR_AHEAD_MS, cut, normal
from monitor.proof.rules import Alternative, Days, Limits, Rule, Run, Status, Total, Turnings, load_rule
from monitor.proof.verdict import Outcome, Question, evaluate

STATE = TypeAdapter(HoldState)
COOL, HOT = Limits(low_milli_c=55_000), Limits(low_milli_c=65_000)


def rule_of(*ways):
    return Rule(
        id="test", title="", jurisdiction="", section="", methods=(), feedstock="", wording="", source="",
        status=Status.SEEN, alternatives=ways, together_ms=5,
    )  # fmt: skip


parts = st.one_of(
    st.builds(Run, duration_ms=st.integers(1, 25)),
    st.builds(Total, duration_ms=st.integers(1, 40)),
    st.builds(Days, count=st.integers(1, 3), day_ms=st.just(8), least_ms=st.just(4), dark_ms=st.just(2),
              recovery_ms=st.just(6), onset_ms=st.just(3)),
)  # fmt: skip
rules = st.builds(
    lambda cool, hot: rule_of(Alternative(limits=COOL, parts=(cool,)), Alternative(limits=HOT, parts=(hot,))),
    parts,
    parts,
)
spells = st.lists(st.tuples(st.integers(2, 12), st.sampled_from([-1, 0, 1, 1, 2, 2])), min_size=1, max_size=14)
"""(how long, level): not proven, below both, within the first limits, within both."""


def intervals(told, least):
    at, found = 0, []
    for lasting, level in told:
        if level >= least:
            found.append((at, at + lasting - 1))
        at += lasting
    # Spells that follow one another are one interval.
    joined = []
    for start, end in found:
        if joined and start == joined[-1][1] + 1:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return normal(joined)


def tell(follower, told):
    """Tell a record as the walk does; yield the instant before each change."""
    at = 0
    before = -1
    for lasting, level in told:
        inside = (1 if level >= 1 else 0) | (2 if level >= 2 else 0)
        was = (1 if before >= 1 else 0) | (2 if before >= 2 else 0)
        if was & ~inside:
            follower.inside(at - 1, was & inside)
        if before >= 0 and level < 0:
            follower.proven(at - 1, False)
        if before < 0 and level >= 0:
            follower.proven(at, True)
        if inside & ~was:
            follower.inside(at, inside)
        before, at = level, at + lasting
        yield at - 1


@settings(max_examples=150, deadline=None)
@given(rules, spells)
def test_what_is_followed_is_what_is_evaluated(rule, told):
    follower = RuleFollower(rule)
    for at in tell(follower, told):
        progress = RuleFollower(rule, STATE.validate_json(STATE.dump_json(follower.state))).progress(at)
        proven = cut(intervals(told, 0), 0, at)
        sets = [
            HoldSet(basis=HoldBasis.COLDEST, proven=proven, hold=cut(intervals(told, least), 0, at), probes=())
            for least in (1, 2)
        ]
        finding = evaluate(Question(rule=rule, max_gap_ms=FAR_AHEAD_MS, start=0, end=at), sets)
        met = finding.outcome is Outcome.MET
        assert (progress.state is RuleState.MET) is met
        if met:
            assert (progress.since, progress.look_again) == (finding.met_at, None)
        else:
            assert progress.state is (RuleState.RUNNING if sets[0].hold else RuleState.NOT_BEGUN)


@settings(max_examples=80, deadline=None)
@given(rules, spells)
def test_nothing_changes_before_look_again(rule, told):
    follower = RuleFollower(rule)
    for at in tell(follower, told):
        plain = STATE.dump_json(follower.state)
        before = RuleFollower(rule, STATE.validate_json(plain)).progress(at)
        until = before.look_again if before.look_again is not None else at + 100
        again = RuleFollower(rule, STATE.validate_json(plain))
        for later in (at, (at + until) // 2, until - 1):
            if at <= later < until:
                assert again.progress(later).state is before.state


def test_the_nearest_way_is_shown_and_the_first_that_is_done_counts():
    # BioAbfV Annex 2 no. 2.2.2.1 (seen): 55 degC for two weeks, 60 degC for six days, 65 degC for three days.
    rule = load_rule("de-bioabfv")
    assert len(followed(rule)) == 3
    follower = RuleFollower(rule)
    follower.restart(0)
    follower.proven(0, True)
    follower.inside(0, 0b001)
    seen = follower.progress(4 * DAY_MS)
    assert (seen.values["days"], seen.values["days_needed"], seen.values["at_hold_c"]) == (4, 14, 55)
    follower.inside(4 * DAY_MS, 0b111)
    seen = follower.progress(6 * DAY_MS)
    assert (seen.values["days"], seen.values["days_needed"], seen.values["at_hold_c"]) == (2, 3, 65)
    assert seen.look_again == 7 * DAY_MS
    met = follower.progress(7 * DAY_MS)
    assert (met.state, met.since, met.values["at_hold_c"]) == (RuleState.MET, 7 * DAY_MS, 65)


TURNED = Turnings(count=2)


@pytest.mark.parametrize(
    ("cool", "hot", "hot_since", "turned", "at", "nearest_c"),
    [
        # Of equal ones the cooler, which stands first; of others the one of whose wants more is fulfilled.
        (Run(duration_ms=100 * HOUR_MS), Run(duration_ms=100 * HOUR_MS), 0, [], 50, 55),
        (Run(duration_ms=101 * HOUR_MS), Run(duration_ms=100 * HOUR_MS), 0, [], 50, 65),
        (Run(duration_ms=100 * HOUR_MS), Run(duration_ms=50 * HOUR_MS), 30, [], 50, 55),
        (Run(duration_ms=100 * HOUR_MS), Run(duration_ms=39 * HOUR_MS), 30, [], 50, 65),
        (Total(duration_ms=100 * HOUR_MS), Total(duration_ms=38 * HOUR_MS), 30, [], 50, 65),
        (Total(duration_ms=100 * HOUR_MS), Run(duration_ms=42 * HOUR_MS), 30, [], 50, 55),
        # One that has not begun comes last.
        (Run(duration_ms=10_000 * HOUR_MS), Run(duration_ms=1 * HOUR_MS), None, [], 50, 55),
        # What lacks most decides how near a way is, and more than enough of one thing makes up for none of another.
        (Run(duration_ms=60 * HOUR_MS, turnings=TURNED), Run(duration_ms=150 * HOUR_MS), 0, [], 100, 65),
        (Run(duration_ms=60 * HOUR_MS, turnings=TURNED), Run(duration_ms=150 * HOUR_MS), 0, [10], 100, 65),
        (Run(duration_ms=60 * HOUR_MS, turnings=TURNED), Run(duration_ms=220 * HOUR_MS), 0, [10], 100, 55),
    ],
)
def test_the_way_is_shown_of_which_most_is_fulfilled(cool, hot, hot_since, turned, at, nearest_c):
    follower = RuleFollower(rule_of(Alternative(limits=COOL, parts=(cool,)), Alternative(limits=HOT, parts=(hot,))))
    follower.restart(0)
    follower.proven(0, True)
    follower.inside(0, 0b01 if hot_since != 0 else 0b11)
    if hot_since:
        follower.inside(hot_since * HOUR_MS, 0b11)
    for when in turned:
        follower.turned(when * HOUR_MS)
    progress = follower.progress(at * HOUR_MS)
    assert progress.state is RuleState.RUNNING
    assert progress.values["at_hold_c"] == nearest_c


def test_a_rule_of_one_way_says_no_more_than_before():
    follower = RuleFollower(load_rule("us-112-54-static"))
    follower.restart(0)
    follower.proven(0, True)
    follower.inside(0, True)
    assert "at_hold_c" not in follower.progress(HOUR_MS).values


@pytest.mark.parametrize("rule_id", ["us-503-time-temperature-liquid", "us-503-psrp"])
def test_what_only_a_certificate_can_examine_is_not_followed(rule_id):
    rule = load_rule(rule_id)
    assert followed(rule) == rule.alternatives[:1]
    assert RuleFollower(rule).progress(0).values["not_followed"] == 1


def test_limits_of_the_ways_do_not_fall_together():
    lows = [way.limits.low_milli_c for way in load_rule("eu-2019-1009-cmc3").alternatives]
    assert all(one < other for one, other in pairwise(lows))
