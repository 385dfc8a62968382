"""Every transition of a batch at its exact millisecond, and at the edge of each dwell and limit."""

import pytest
from piles_script import LIMITS, T0, H, TotalTracker, brief, feed, in_order, make_walk, phases, ramp, record, run

from monitor.model.times import DAY_MS, MINUTE_MS
from monitor.model.words import Phase
from monitor.piles import TRANSITIONS, ChangeKind, Reason, Signal

HEATING, HOLDING, COOLING, READY = Phase.HEATING, Phase.HOLDING, Phase.COOLING, Phase.READY
UP = [(0, 20), (35, 55), (40, 60)]
"""Reaches 55 °C at 35 h, so it is holding at 36 h."""
AT_36 = (HEATING, HOLDING, 36 * H)


def points(*pairs):
    """Readings from (ms since T0, milli)."""
    return [(T0 + at, value) for at, value in pairs]


def long_rule():
    return TotalTracker(need=100 * DAY_MS)


def short_rule():
    return TotalTracker(need=2 * H)


@pytest.mark.parametrize(
    ("knots", "expected"),
    [
        pytest.param([(0, 20), (35, 55), (60, 55)], [AT_36], id="flat at the limit"),
        pytest.param([(0, 20), (34, 54.999), (60, 54.999)], [], id="a thousandth below"),
        pytest.param(
            [(0, 20), (34, 54), (35, 57), (40, 57)], [(HEATING, HOLDING, 34 * H + 80 * MINUTE_MS)], id="crossing"
        ),
    ],
)
def test_holding_at_the_exact_instant(knots, expected):
    assert phases(run({"a": knots}, tracker=long_rule())) == expected


def test_a_crossing_is_rounded_inward():
    changes = run({"a": points((0, 54_000), (H, 57_001), (3 * H, 57_001))})
    # 1000 / 3001 of an hour is 1,199,600.13 ms: the first whole millisecond inside is the next.
    assert phases(changes) == [(HEATING, HOLDING, 1_199_601 + H)]


def test_dwell_of_holding_needs_its_last_millisecond():
    just = points((0, 55_000), (H, 55_000), (H + 2, 54_000))
    assert phases(run({"a": just})) == [(HEATING, HOLDING, H)]
    short = points((0, 55_000), (H - 1, 55_000), (H, 54_999), (2 * H, 54_999))
    assert phases(run({"a": short})) == []


def test_coldest_decides_holding():
    changes = run({"a": [(0, 20), (35, 55), (60, 60)], "b": [(0, 20), (45, 55), (60, 55)]})
    assert phases(changes) == [(HEATING, HOLDING, 46 * H)]
    assert [c.probe for c in changes if c.after == HOLDING] == ["b"]
    assert [c.coldest_milli for c in changes if c.after == HOLDING] == [55_000]


@pytest.mark.parametrize(("gap_ms", "expected"), [(2 * H, [(HEATING, HOLDING, H)]), (2 * H + 1, [])])
def test_a_gap_longer_than_two_hours_proves_nothing(gap_ms, expected):
    assert phases(run({"a": points((0, 60_000), (gap_ms, 60_000), (gap_ms + H - 1, 60_000))})) == expected


def test_unproven_time_ends_a_dwell():
    record_ = points((0, 50_000), (H // 2, 60_000), (H, 60_000), (4 * H, 60_000), (5 * H, 60_000), (6 * H, 60_000))
    assert phases(run({"a": record_})) == [(HEATING, HOLDING, 5 * H)]


LOST_AT = 50 * H + 3_535_715
"""From 60 at 50 h to 54.4 at 51 h: the first whole ms below 54.5."""


@pytest.mark.parametrize(
    ("low", "tracker", "expected"),
    [
        pytest.param(54.4, long_rule, [AT_36, (HOLDING, HEATING, LOST_AT + H)], id="below by more than the deadband"),
        pytest.param(54.5, long_rule, [AT_36], id="below by the deadband"),
        pytest.param(54.4, short_rule, [AT_36], id="rule met"),
    ],
)
def test_holding_to_heating(low, tracker, expected):
    probes = {"a": [*UP, (62, 60)], "b": [*UP, (50, 60), (51, low), (62, low)]}
    changes = run(probes, tracker=tracker())
    assert phases(changes) == expected
    if len(expected) > 1:
        assert [c.probe for c in changes if c.reason is Reason.LOST] == ["b"]


def test_holding_to_heating_needs_sixty_minutes():
    back = 51 * H + 3_535_715
    knots = points((50 * H, 60_000), (51 * H, 54_400), (back - H // 10, 54_400), (back, 54_500), (60 * H, 54_500))
    probe = ramp(UP) + ramp([(41, 60), (49, 60)]) + knots[:4]
    last = [(T0 + back + k * H, 54_500) for k in range(1, 9)]
    assert phases(run({"a": [*UP, (60, 60)], "b": probe + last}, tracker=long_rule())) == [AT_36]


@pytest.mark.parametrize(
    ("knots", "expected"),
    [
        pytest.param([*UP, (50, 60), (51, 54.4), (70, 54.4)], [AT_36, (HOLDING, COOLING, LOST_AT + 12 * H)], id="12 h"),
        pytest.param([*UP, (50, 60), (51, 54.5), (80, 54.5)], [AT_36], id="within the deadband"),
        pytest.param([*UP, (50, 60), (51, 54.4), (62, 54.4), (63, 56), (70, 56)], [AT_36], id="back in time"),
    ],
)
def test_holding_to_cooling(knots, expected):
    assert phases(run({"a": knots}, tracker=long_rule())) == expected


def test_heating_to_cooling_once_it_has_held():
    probes = {"a": [*UP, (55, 60), (56, 50), (80, 50)], "b": [*UP, (50, 60), (51, 54.4), (80, 54.4)]}
    # Lost at b, then a falls too: 60 to 50 in an hour passes 54.5 at 0.55 h.
    assert phases(run(probes, tracker=long_rule())) == [
        AT_36,
        (HOLDING, HEATING, LOST_AT + H),
        (HEATING, COOLING, 55 * H + 1_980_001 + 12 * H),
    ]


@pytest.mark.parametrize(
    ("peak", "expected"), [(40, [(HEATING, COOLING, 10 * H + 1 + 24 * H)]), (39.999, [])], ids=["40", "39.999"]
)
def test_heating_to_cooling_when_it_never_held(peak, expected):
    changes = run({"a": [(0, 20), (10, peak), (11, 39), (60, 39)]})
    assert phases(changes) == expected
    assert [c.reason for c in changes if c.after == COOLING] == [Reason.GAVE_UP] * len(expected)


def test_never_held_needs_a_whole_day_below():
    knots = points((9 * H, 20_000), (10 * H, 40_000), (11 * H, 39_999))
    tail = [(T0 + 11 * H + k * H, 39_999) for k in range(1, 23)]
    assert phases(run({"a": knots + tail + points((34 * H, 39_999), (34 * H + 2, 41_000))})) == []
    on = points((34 * H, 39_999), (34 * H + 1, 39_999))
    assert phases(run({"a": knots + tail + on})) == [(HEATING, COOLING, 34 * H + 1)]


COOLED = [*UP, (50, 60), (51, 50), (70, 50)]
COOLED_AT = 50 * H + 1_980_001 + 12 * H


def test_cooling_to_holding_again():
    changes = run({"a": [*COOLED, (75, 55), (80, 55)]}, tracker=long_rule())
    assert phases(changes) == [AT_36, (HOLDING, COOLING, COOLED_AT), (COOLING, HOLDING, 76 * H)]


@pytest.mark.parametrize(("tracker", "count"), [(long_rule, 1), (short_rule, 0)])
def test_cooling_to_heating_by_the_hottest(tracker, count):
    probes = {"a": [*COOLED, (75, 55), (80, 55)], "b": [*COOLED, (80, 50)]}
    changes = phases(run(probes, tracker=tracker()))
    assert changes == [AT_36, (HOLDING, COOLING, COOLED_AT), (COOLING, HEATING, 76 * H)][: 2 + count]


def test_with_rule_none_unmet_ends_after_72_hours_of_hold():
    for hours, count in ((71, 2), (72, 1)):
        end = 35 + hours
        probes = {
            "a": [*UP, (end - 1, 60), (end, 55), (end + 1, 54.4), (end + 15, 54.4)],
            "b": [*UP, (end + 15, 60)],
        }
        assert len(phases(run(probes))) == count


OLD = [*UP, (100, 60), (150, 20)]
COOL_AT = 106 * H + 3_150_001 + 12 * H
"""60 at 100 h to 20 at 150 h passes 54.5 at 106.875 h; 12 h later it is cooling."""


def after_old(*knots):
    return [*OLD, *knots]


def ready(changes):
    return [entry for entry in phases(changes) if READY in entry[:2]]


def test_ready_not_before_28_days():
    assert phases(run({"a": after_old((700, 20))})) == [
        AT_36,
        (HOLDING, COOLING, COOL_AT),
        (COOLING, READY, 28 * 24 * H),
    ]


WARM = [(690, 20), (691, 40), (700, 30.667)]


@pytest.mark.parametrize(
    ("knots", "expected"),
    [
        pytest.param([(701, 26.667), (800, 26.667)], [701 + 72], id="at the limit"),
        pytest.param([(701, 26.668), (800, 26.668)], [], id="a thousandth above"),
        pytest.param([(701, 26.667), (740, 26.667), (741, 27.167), (742, 26), (800, 26)], [701 + 72], id="deadband"),
        pytest.param([(701, 26.667), (740, 26.667), (741, 27.168), (742, 26.667), (820, 26)], [742 + 72], id="beyond"),
        pytest.param([(701, 26.667), (740, 26.667), (740, None), (743, 26), (800, 26)], [701 + 75], id="paused"),
        pytest.param([(701, 26.667), (730, 26), (730, None), (754, 26), (850, 26)], [701 + 96], id="paused 24 h"),
        pytest.param([(701, 26.667), (730, 26), (730, None), (755, 26), (850, 26)], [755 + 72], id="paused too long"),
    ],
)
def test_ready_for_worms(knots, expected):
    spots = []
    for part in split_at_gaps(after_old((690, 40), (700, 30.667), *knots)):
        spots += ramp(part)
    assert ready(run({"a": spots})) == [(COOLING, READY, hour * H) for hour in expected]


def split_at_gaps(knots):
    part, parts = [], []
    for knot in knots:
        if knot[1] is None:
            parts.append(part)
            part = []
        else:
            part.append(knot)
    return [*parts, part]


def air(celsius, hours=range(900), minute=10):
    return [(T0 + hour * H + minute * MINUTE_MS, round(celsius * 1000)) for hour in hours]


@pytest.mark.parametrize(
    ("celsius", "hours", "limit"),
    [
        pytest.param(10, range(900), 18, id="8 above ambient"),
        pytest.param(2, range(900), 15, id="never below 15"),
        pytest.param(25, range(900), 26.667, id="never above the fixed one"),
        pytest.param(10, [h for h in range(900) if h % 4 != 3], 18, id="three hours of four heard"),
        pytest.param(10, [h for h in range(900) if h % 4 != 3 and h % 167 != 0], 26.667, id="fewer"),
    ],
)
def test_ready_limit_moves_with_ambient(celsius, hours, limit):
    for value, count in ((limit, 1), (limit + 0.001, 0)):
        knots = after_old((600, limit + 5), (700, limit + 1), (710, value), (800, value))
        changes = ready(run({"a": knots}, air=air(celsius, hours)))
        assert changes == [(COOLING, READY, (710 + 72) * H)] * count


def test_ready_crosses_the_moving_limit_at_the_exact_instant():
    knots = after_old((600, 24), (700, 24), (701, 17), (800, 17))
    # From 24 to 17 in an hour: 18 is reached after 6/7 h = 3,085,714.3 ms, so it is not above from the next ms on.
    assert ready(run({"a": knots}, air=air(10))) == [(COOLING, READY, 700 * H + 3_085_715 + 72 * H)]


def test_ambient_rising_makes_ready_at_a_whole_hour():
    warmer = air(10, range(800)) + air(20, range(800, 1000))
    (change,) = ready(run({"a": after_old((600, 21), (1100, 21))}, air=warmer))
    # The mean of 168 hours is 13 once 51 of them are 20 (10 + 10 * 51 / 168 = 13.04); that hour ended 1 h before.
    assert change == (COOLING, READY, (800 + 51 + 1 + 72) * H)


def test_a_new_probe_within_the_hour_is_held_against_the_moving_limit():
    work = [("in", 700.25, "b"), ("out", 700.9, "b")]
    items = record({"a": after_old((600, 24), (690, 24), (691, 17), (800, 17))}, work, air(10))
    items += [
        ("r", time, "b", value) for time, value in points((700 * H + H // 2, 19_000), (700 * H + H // 2 + 9, 19_000))
    ]
    items += [("r", time, "a", 17_000) for time, _ in points((700 * H + H // 2, 0), (700 * H + 5 * H // 6, 0))]
    walk, changes = make_walk(), []
    for item in in_order(items):
        feed(walk, [item])
        changes += walk.advance()
    # 19 is above the limit of 18 by more than the deadband: the 72 h begin anew when that probe has gone.
    assert ready(changes) == [(COOLING, READY, (700 + 72) * H + 9 * H // 10)]


def test_a_turning_ends_the_72_hours():
    knots = after_old((700, 30), (701, 26), (850, 26))
    (change,) = ready(run({"a": knots}, work=[("t", 740)]))
    assert change == (COOLING, READY, 740 * H + 72 * H)


@pytest.mark.parametrize(("value", "count"), [(28.167, 2), (28.166, 1)])
def test_ready_to_cooling(value, count):
    knots = after_old((700, 20), (701, value), (760, value))
    expected = [(COOLING, READY, 672 * H), (READY, COOLING, 725 * H)]
    assert ready(run({"a": knots})) == expected[:count]


def test_ready_to_holding():
    at_once = after_old((700, 20), (714, 55), (720, 55))
    assert ready(run({"a": at_once})) == [(COOLING, READY, 672 * H), (READY, HOLDING, 715 * H)]
    slowly = after_old((700, 20), (735, 55), (740, 55))
    changes = phases(run({"a": slowly}))
    # 1 degree an hour: 28.167 is passed at 708 h 601.2 s.
    assert changes[-2:] == [(READY, COOLING, 708 * H + 601_200 + 24 * H), (COOLING, HOLDING, 736 * H)]


def test_reheating_once_at_the_exact_instant():
    knots = after_old((200, 38), (300, 38), (310, 48), (320, 38), (330, 48))
    changes = [c for c in run({"a": knots}) if c.kind is ChangeKind.REHEATING]
    assert [c.since - T0 for c in changes] == [305 * H]
    assert changes[0].hottest_milli == 43_000


@pytest.mark.parametrize(
    ("knots", "hours"),
    [
        pytest.param([(200, 20), (300, 20), (330, 50)], [320], id="not below 40"),
        pytest.param([(200, 20), (300, 20), (320, 39.999), (400, 39.999)], [], id="a thousandth below 40"),
        pytest.param([(200, 44), (300, 44), (310, 48.999), (400, 48.999)], [], id="a thousandth less than 5"),
        pytest.param([(200, 44), (300, 44), (310, 49), (400, 49)], [310], id="5 degrees"),
        pytest.param([(151, 42), (300, 42), (400, 52)], [], id="slower than 48 h"),
    ],
)
def test_reheating_limits(knots, hours):
    changes = run({"a": [*UP, (100, 60), (130, 44), *knots]})
    assert [c.since - T0 for c in changes if c.kind is ChangeKind.REHEATING] == [hour * H for hour in hours]


TURN_OUT = [("out", 50, "a"), ("t", 50)]


def test_recovery_holds_off_what_is_marked_outside_recovery():
    back = ramp([(51, 40), (150, 40)])
    probe = ramp([*UP, (49, 60)]) + back
    work = [*TURN_OUT, ("in", 51, "a")]
    # 48 h of recovery, then 12 h.
    assert phases(run({"a": probe}, work=work, tracker=long_rule())) == [AT_36, (HOLDING, COOLING, (98 + 12) * H)]


def test_recovery_ends_when_it_is_back_at_temperature():
    back = ramp([(51, 40), (66, 55), (67, 54), (90, 54)])
    probe = ramp([*UP, (49, 60)]) + back
    changes = phases(run({"a": probe}, work=[*TURN_OUT, ("in", 51, "a")], tracker=long_rule()))
    assert changes == [AT_36, (HOLDING, COOLING, 66 * H + H // 2 + 1 + 12 * H)]


def test_an_absent_probe_leaves_cooling_to_the_others():
    probes = {"a": [*UP, (50, 60), (51, 50), (80, 50)], "b": [*UP, (48, 60)]}
    assert phases(run(probes, tracker=long_rule())) == [AT_36, (HOLDING, COOLING, COOLED_AT)]


def test_a_probe_within_the_lag_holds_the_frontier_back():
    walk = make_walk()
    for item in record({"a": [(0, 20), (6, 26)], "b": [(0, 20)]}):
        walk.reading(item[2], item[1], item[3]) if item[0] == "r" else walk.probe_in(item[2], item[1])
        walk.advance()
    assert walk.frontier() == T0
    walk.reading("a", T0 + 6 * H + 1, 26_000)
    walk.advance()
    assert walk.frontier() == T0 + 6 * H + 1
    assert walk.touches_past("b", T0 + 6 * H + 1)
    assert not walk.touches_past("b", T0 + 6 * H + 2)


def test_a_return_that_makes_a_mere_gap_of_an_absence_touches_the_past():
    walk = make_walk()
    for probe in "abc":
        walk.probe_in(probe, T0)
        walk.reading(probe, T0, 20_000)
    walk.reading("c", T0 + H, 20_000)
    walk.reading("a", T0 + 7 * H, 20_000)
    walk.advance()
    assert walk.frontier() == T0 + H
    # Only b lags behind a. Fed in order, a's reading comes before b's of the same instant, and leaves it behind.
    assert walk.touches_past("b", T0 + 7 * H - 1)
    assert not walk.touches_past("b", T0 + 7 * H)


def test_nobody_in_service_proves_nothing():
    probe = ramp([*UP, (49, 60)]) + ramp([(120, 60), (130, 60)])
    changes = run({"a": probe}, work=[("out", 50, "a"), ("in", 120, "a")])
    assert phases(changes) == [AT_36]
    walk = make_walk()
    walk.probe_in("a", T0)
    walk.reading("a", T0, 20_000)
    walk.probe_out("a", T0 + 5)
    walk.advance()
    assert walk.frontier() == T0 + 5


def test_added_starts_the_hold_of_rule_none_anew():
    probes = {"a": [*UP, (120, 60), (121, 50), (140, 50)], "b": [*UP, (140, 60)]}
    assert len(phases(run(probes))) == 1
    assert len(phases(run(probes, work=[("a", 60)]))) == 2


def test_the_tracker_hears_everything_in_order():
    tracker = TotalTracker(need=3 * H, turnings=1)
    probe = points((0, 54_000), (H, 56_000), (2 * H, 56_000), (5 * H, 56_000), (6 * H, 56_000))
    changes = run({"a": probe}, work=[("t", 5.5), ("a", 5.75)], tracker=tracker, upper=76_667)
    assert tracker.told == [
        "proven True 0",
        f"inside 1 {H // 2}",
        f"inside 0 {2 * H}",
        f"proven False {2 * H}",
        f"proven True {5 * H}",
        f"inside 1 {5 * H}",
        f"turned {5 * H + H // 2}",
        f"restart {5 * H + 3 * H // 4}",
    ]
    added = 5 * H + 3 * H // 4
    assert brief(changes, "rule") == [
        ("rule", "not begun", "running", H // 2),
        ("rule", "running", "not begun", added),
        ("rule", "not begun", "running", added),
    ]
    assert [change.reason for change in changes if change.kind == "rule"][1] == "raw added"


def test_rule_met_at_its_own_instant():
    changes = run({"a": [*UP, (60, 60)]}, tracker=TotalTracker(need=10 * H))
    assert brief(changes, "rule") == [("rule", "not begun", "running", 35 * H), ("rule", "running", "met", 45 * H)]


@pytest.mark.parametrize(("strict", "upper", "first"), [(True, None, 35 * H + 1), (False, 56_000, 35 * H)])
def test_limits_of_the_rule_itself(strict, upper, first):
    tracker = TotalTracker()
    run({"a": [(0, 20), (35, 55), (40, 60)]}, tracker=tracker, strict=strict, upper=upper)
    inside = [word for word in tracker.told if word.startswith("inside")]
    assert inside[0] == f"inside 1 {first}"
    # 56 is passed at 36 h; at that very instant it is still inside.
    assert inside[1:] == ([f"inside 0 {36 * H}"] if upper else [])


def test_every_row_of_the_table_is_reached_by_these_records():
    seen = {(row.before, row.after) for row in TRANSITIONS}
    assert seen == {
        (HEATING, HOLDING), (HEATING, COOLING), (HOLDING, HEATING), (HOLDING, COOLING), (COOLING, HOLDING),
        (COOLING, HEATING), (COOLING, READY), (READY, HOLDING), (READY, COOLING),
    }  # fmt: skip
    assert {row.signal for row in TRANSITIONS} == set(Signal)
    assert LIMITS.hold_milli_c == 55_000


def test_raw_material_makes_the_rule_not_begun_before_the_record_comes_to_it():
    tracker = TotalTracker(need=3 * H)
    walk = make_walk(tracker=tracker)
    walk.probe_in("a", T0)
    for hour in range(6):
        walk.reading("a", T0 + hour * H, 60_000)
    assert [one.after for one in walk.advance() if one.kind == "rule"] == ["running", "met"]
    walk.added(T0 + 6 * H)
    (told,) = walk.advance()
    assert (told.kind, told.before, told.after, told.since, told.reason) == (
        "rule", "met", "not begun", T0 + 6 * H, "raw added",
    )  # fmt: skip
    # What the record still has to say of the time before changes nothing; the hold goes on from there.
    walk.reading("a", T0 + 5 * H + H // 2, 60_000)
    assert walk.advance() == []
    walk.reading("a", T0 + 7 * H, 60_000)
    assert brief(walk.advance(), "rule") == [("rule", "not begun", "running", 6 * H)]
    assert "restart" in " ".join(tracker.told)


def test_met_material_makes_only_what_is_under_way_begin_anew():
    def told(need):
        walk = make_walk(tracker=TotalTracker(need=need))
        walk.probe_in("a", T0)
        for hour in range(6):
            walk.reading("a", T0 + hour * H, 60_000)
        changes = walk.advance()
        walk.joined(T0 + 5 * H + H // 2)
        changes += walk.advance()
        walk.reading("a", T0 + 6 * H, 60_000)
        return [(one.after, one.reason.value) for one in changes + walk.advance() if one.kind == "rule"]

    run = ("running", "rule progress")
    assert told(3 * H) == [run, ("met", "rule progress")]
    # It is met between the last reading and what came in: known when the record comes to it.
    assert told(5 * H + H // 4) == [run, ("not begun", "raw added"), ("met", "rule progress")]
    assert told(20 * H) == [run, ("not begun", "raw added"), run]


def test_raw_material_on_a_batch_that_was_ready_for_worms():
    # 28 days count from the last raw material, and what was ready is not, before any reading follows.
    walk = make_walk()
    walk.probe_in("a", T0)
    spots = [*ramp([*UP, (60, 60), (72, 20), (700, 20)])]
    for at, milli in spots:
        walk.reading("a", at, milli)
    assert phases(walk.advance())[-1] == (COOLING, READY, 672 * H)
    walk.added(T0 + 701 * H)
    (told,) = walk.advance()
    assert (told.before, told.after, told.since, told.reason) == (READY, COOLING, T0 + 701 * H, "raw added")
    assert (walk.state.phase, walk.state.shown_phase) == (READY, COOLING)
    for at, milli in ramp([(701, 20), (1400, 20)]):
        walk.reading("a", at, milli)
    assert phases(walk.advance()) == [(COOLING, READY, (701 + 672) * H)]
    assert walk.state.shown_phase is READY
