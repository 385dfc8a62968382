"""What a walk tells the tracker of its rule, to the millisecond; and what raw material does to the rule at once."""

from dataclasses import dataclass, field, replace
from itertools import pairwise

import pytest
from piles_script import LIMITS, T0, H, TotalTracker, make_walk

from monitor.model.progress import RuleProgress
from monitor.model.words import Method, RuleState
from monitor.piles import ROUND_LINES, ChangeKind, HoldLimits, Reason, Walk, WalkState

M = H // 60


@dataclass
class Told:
    """A tracker that only notes what it is told, in minutes since T0."""

    told: list = field(default_factory=list)

    def _note(self, at, *what):
        self.told.append(((at - T0) / M, *what))

    def proven(self, at, proven):
        self._note(at, "proven" if proven else "unproven")

    def inside(self, at, inside):
        self._note(at, "inside", inside)

    def opened(self, at, turning):
        self._note(at, "opened", (turning - T0) / M)

    def turned(self, at):
        self._note(at, "turned")

    def restart(self, at):
        self._note(at, "restart")

    def progress(self, at):
        return RuleProgress(state=RuleState.RUNNING, since=T0, look_again=None, values={}, wants_turnings=False)


WAYS = HoldLimits(
    hold_milli_c=55_000, others=(HoldLimits(hold_milli_c=60_000, upper_milli_c=70_000), HoldLimits(hold_milli_c=65_000))
)


def told(*items, limits=WAYS, thresholds=LIMITS):
    """Items in order: ("in", "out", "u", "t" or "a", minute, probe or nothing), or (minute, probe, degC)."""
    tracker = Told()
    walk = Walk(WalkState.fresh(T0), limits, thresholds, Method.TURNED, tracker)
    for one, following in pairwise([*items, (None,)]):
        match one:
            case ("in", minute, probe):
                walk.probe_in(probe, T0 + minute * M)
            case ("out", minute, probe):
                walk.probe_out(probe, T0 + minute * M)
            case ("u", minute, probe):
                walk.unread(probe, T0 + minute * M)
            case ("t", minute):
                walk.turned(T0 + minute * M)
            case ("a", minute):
                walk.added(T0 + minute * M)
            case (minute, probe, celsius):
                walk.reading(probe, T0 + minute * M, round(celsius * 1000))
        if following[0] != one[0]:  # both lines of a round are taken in before the record is examined
            walk.advance()
    return tracker.told


MS = 1 / M


@pytest.mark.parametrize(
    ("items", "expected"),
    [
        # Up through all three ways' limits, and beyond the upper limit of the second.
        ([("in", 0, "a"), (0, "a", 50), (100, "a", 60)], [(0, "proven"), (50, "inside", 1), (100, "inside", 3)]),
        ([("in", 0, "a"), (0, "a", 60), (50, "a", 65), (100, "a", 70)],
         [(0, "proven"), (0, "inside", 3), (50, "inside", 7)]),
        ([("in", 0, "a"), (0, "a", 65), (100, "a", 75), (110, "a", 75)],
         [(0, "proven"), (0, "inside", 7), (50, "inside", 5)]),
        # Down again: what is left is left at the last millisecond within it.
        ([("in", 0, "a"), (0, "a", 65), (100, "a", 55), (110, "a", 50)],
         [(0, "proven"), (0, "inside", 7), (0, "inside", 3), (50, "inside", 1), (100, "inside", 0)]),
        # A silence of more than two hours proves nothing; it ends with its last reading.
        ([("in", 0, "a"), (0, "a", 56), (10, "a", 56), (131, "a", 56), (140, "a", 56)],
         [(0, "proven"), (0, "inside", 1), (10, "inside", 0), (10, "unproven"), (131, "proven"), (131, "inside", 1)]),
        # A probe that is put in and not read yet ends the others' hold at that instant, and not a millisecond before.
        ([("in", 0, "a"), (0, "a", 56), (50, "a", 56), ("in", 60, "b"), (70, "a", 56), (80, "b", 56), (90, "a", 56)],
         [(0, "proven"), (0, "inside", 1), (60, "inside", 0), (60, "unproven"), (80, "proven"), (80, "inside", 1)]),
        # One that is put in cold ends it there too.
        ([("in", 0, "a"), (0, "a", 56), (50, "a", 56), ("in", 60, "b"), (60, "b", 40), (70, "a", 56), (80, "b", 40)],
         [(0, "proven"), (0, "inside", 1), (60 - MS, "inside", 0)]),
        # Turnings and material, at their own instants.
        ([("in", 0, "a"), (0, "a", 50), (10, "a", 50), ("t", 20), ("t", 20), (30, "a", 50), ("a", 40), (50, "a", 50)],
         [(0, "proven"), (20, "turned"), (20, "turned"), (40, "restart")]),
    ],
)  # fmt: skip
def test_what_the_tracker_of_a_rule_is_told(items, expected):
    assert told(*items) == expected


HELD = [(0, "proven"), (0, "inside", 1)]


def parted(last, first):
    """What is told of a hold that is not proven from one minute to another."""
    return [*HELD, (last, "inside", 0), (last, "unproven"), (first, "proven"), (first, "inside", 1)]


LONGER = replace(LIMITS, max_gap_ms=4 * H, hand_gap_ms=30 * H)
"""A yard that bridges longer gaps than a rule does."""


@pytest.mark.parametrize(
    ("probes", "gap", "expected"),
    [
        # What a rule bridges is 2 h between readings and 26 h between rounds by hand, whatever the yard bridges.
        (("a",), 120, HELD),
        (("a",), 121, parted(10, 131)),
        (("a",), 240, parted(10, 250)),
        (("a",), 241, parted(10, 251)),
        (ROUND_LINES, 26 * 60, HELD),
        (ROUND_LINES, 26 * 60 + 1, parted(10, 26 * 60 + 11)),
        (ROUND_LINES, 30 * 60, parted(10, 30 * 60 + 10)),
        (ROUND_LINES, 30 * 60 + 1, parted(10, 30 * 60 + 11)),
    ],
)
def test_a_gap_that_the_yard_alone_bridges_proves_nothing_for_the_rule(probes, gap, expected):
    readings = [(minute, probe, 56) for minute in (0, 10, 10 + gap, 20 + gap) for probe in probes]
    assert told(*(("in", 0, probe) for probe in probes), *readings, thresholds=LONGER) == expected


@pytest.mark.parametrize(
    ("unread", "expected"),
    [(9, parted(0, 10)), (10, parted(10, 20)), (15, parted(10, 20)), (20, parted(20, 30)), (31, HELD)],
)
def test_across_a_value_that_nobody_can_read_nothing_is_proven_for_the_rule(unread, expected):
    items = [(minute, "a", 56) for minute in (0, 10, 20, 30)]
    place = sum(minute <= unread for minute, _, _ in items)
    assert told(("in", 0, "a"), *items[:place], ("u", unread, "a"), *items[place:]) == expected


def held(*, need=100 * H, until=20):
    """A walk at 60 degC for so many hours under a rule of a total."""
    walk = make_walk(tracker=TotalTracker(need=need))
    walk.probe_in("a", T0)
    for hour in range(until + 1):
        walk.reading("a", T0 + hour * H, 60_000)
    walk.advance()
    return walk


def rule_changes(changes):
    return [(one.before, one.after, (one.since - T0) / H, one.reason) for one in changes if one.kind is ChangeKind.RULE]


def test_raw_material_is_told_at_once_though_the_record_has_not_come_to_it():
    walk = held()
    walk.added(T0 + 30 * H)
    assert rule_changes(walk.advance()) == [(RuleState.RUNNING, RuleState.NOT_BEGUN, 30, Reason.RAW_ADDED)]
    assert walk.advance() == []  # once
    walk.reading("a", T0 + 21 * H, 60_000)
    assert rule_changes(walk.advance()) == []
    for hour in range(22, 33):
        walk.reading("a", T0 + hour * H, 60_000)
    assert rule_changes(walk.advance()) == [(RuleState.NOT_BEGUN, RuleState.RUNNING, 30, Reason.RULE)]


def test_raw_material_that_the_record_has_come_to_begins_the_count_anew():
    walk = held()
    walk.added(T0 + 20 * H + 1)
    walk.reading("a", T0 + 21 * H, 60_000)
    found = rule_changes(walk.advance())
    assert [(before, after) for before, after, _, _ in found] == [
        (RuleState.RUNNING, RuleState.NOT_BEGUN),
        (RuleState.NOT_BEGUN, RuleState.RUNNING),
    ]


@pytest.mark.parametrize(("need_h", "anew"), [(100, True), (10, False)])
def test_much_material_that_met_its_rule_begins_the_count_anew_only_of_a_heap_under_way(need_h, anew):
    walk = held(need=need_h * H)
    assert walk.unmet() == anew
    walk.joined(T0 + 20 * H + 1)
    walk.reading("a", T0 + 21 * H, 60_000)
    assert any(change[3] is Reason.RAW_ADDED for change in rule_changes(walk.advance())) == anew
    assert walk.unmet() == anew
