"""Days, recovery, doubt, new material and the sentences, on sets given by hand (in hours)."""

import numpy as np
import pytest

from monitor.model.times import DAY_MS, HOUR_MS, parse_time
from monitor.proof.holdset import HoldBasis, HoldSet, ProbeSets
from monitor.proof.intervals import FAR_AHEAD_MS
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
    load_rule,
)
from monitor.proof.temperature import Series
from monitor.proof.verdict import Outcome, Question, evaluate, prove

H = HOUR_MS
D = DAY_MS


def rule_of(*parts, join=Join.ALL, limits=None):
    way = Alternative(limits=limits or Limits(low_milli_c=55_000, low_text="131 °F"), parts=parts, join=join)
    return Rule(
        id="test", title="", jurisdiction="", section="", methods=(), feedstock="", wording="", source="",
        status=Status.SEEN, alternatives=(way,),
    )  # fmt: skip


def judged(parts, hold, proven, end, *, turnings=(), restarts=(), start=0, join=Join.ALL):
    """Evaluate with everything given in hours."""
    sets = HoldSet(
        basis=HoldBasis.COLDEST,
        proven=tuple((round(a * H), round(b * H)) for a, b in proven),
        hold=tuple((round(a * H), round(b * H)) for a, b in hold),
        probes=(),
    )
    return evaluate(
        Question(
            rule=rule_of(*parts, join=join),
            max_gap_ms=FAR_AHEAD_MS,
            start=start * H,
            end=round(end * H),
            turnings=[round(at * H) for at in turnings],
            restarts=[round(at * H) for at in restarts],
        ),
        [sets],
    )


def ms(pairs):
    return tuple((round(a * H), round(b * H)) for a, b in pairs)


def days(count, **options):
    return [Days(count=count, **options)]


def test_recovery_after_a_turning_is_excused_for_24_hours():
    # Turned at 30 h, cold from 31 h, back at 54 h (24 h after). The second day is known for 7 h only.
    assert judged(days(2), [(0, 31), (54, 80)], [(0, 80)], 80, turnings=[30]).met_at == 72 * H
    # Back a moment later, the third day has failed and the next begins with the hold.
    assert judged(days(2), [(0, 31), (54.001, 80)], [(0, 80)], 80, turnings=[30]).met_at == round(78.001 * H)
    assert judged(days(2), [(0, 31), (36, 80)], [(0, 80)], 80, turnings=[30]).met_at == 48 * H
    # The same without a turning is no recovery.
    assert judged(days(2), [(0, 31), (36, 80)], [(0, 80)], 80).met_at == 60 * H


def test_recovery_ends_when_the_hold_is_back():
    # Back at 36 h, lost again at 40 h: that is no recovery any more.
    again = judged(days(3), [(0, 31), (36, 40), (41, 80)], [(0, 80)], 80, turnings=[30])
    assert again.values["days"] == 2
    assert judged(days(3), [(0, 31), (36, 80)], [(0, 80)], 80, turnings=[30]).met_at == 72 * H


def test_a_turning_that_does_not_cool_the_pile_costs_nothing():
    finding = judged(days(3), [(0, 80)], [(0, 80)], 80, turnings=[10, 20, 40])
    assert finding.met_at == 72 * H


def gap(start, end, until):
    """Hold and proven but for one gap."""
    return [(0, start), (end, until)]


def test_a_day_with_more_than_two_hours_unproven_neither_counts_nor_breaks():
    known = gap(30, 32, 96)
    assert judged(days(4), known, known, 96).met_at == 96 * H
    much = gap(30, 32.001, 97)
    assert judged(days(4), much, much, 97).outcome is Outcome.NOT_PROVEN
    assert judged(days(3), much, much, 97).met_at == 96 * H
    # Where days must follow one another, leaving it out would make it met: then it is not proven.
    assert judged(days(3, consecutive=True), much, much, 97).outcome is Outcome.NOT_PROVEN
    assert judged(days(3, consecutive=True), gap(30, 32.001, 120), gap(30, 32.001, 120), 120).met_at == 120 * H
    # Twice an hour and a half in one day is too much as well; in two days it is not.
    twice = [(0, 26), (27.5, 30), (31.5, 96)]
    assert judged(days(4), twice, twice, 96).outcome is Outcome.NOT_PROVEN
    apart = [(0, 26), (27.5, 50), (51.5, 96)]
    assert judged(days(4), apart, apart, 96).met_at == 96 * H


def test_a_long_unproven_stretch_spoils_both_days_that_it_touches():
    # Three hours, half of them in either day: leaving out three hours of cold readings must not help.
    known = gap(22.5, 25.5, 96)
    finding = judged(days(3), known, known, 96)
    assert finding.outcome is Outcome.NOT_PROVEN
    assert finding.values["days"] == 2
    # A day that ends in an unproven stretch is decided when that is over.
    short = gap(23.5, 25, 96)
    assert judged(days(1), short, short, 96).met_at == 25 * H
    assert judged(days(1), [(0, 23.5)], [(0, 23.5)], 24.5).outcome is Outcome.NOT_PROVEN


def test_a_failed_day_is_followed_by_the_hold_after_the_last_that_failed_it():
    # Cold at 3 h and at 10 h: the next day begins at 11 h, not at 4 h.
    hold, proven = [(0, 3), (4, 10), (11, 60)], [(0, 60)]
    assert judged(days(1), hold, proven, 60).met_at == 35 * H
    assert judged(days(2), hold, proven, 60).met_at == 59 * H


def test_in_a_row_an_open_day_that_cannot_count_ends_the_series_at_once():
    rows = days(2, consecutive=True, turnings=Turnings(count=1))
    # Two days, then a dip at 50 h, then the turning: it lies in no two days that follow one another.
    hold, proven = [(0, 50), (51, 70)], [(0, 70)]
    assert judged(rows, hold, proven, 70, turnings=[60]).outcome is Outcome.NOT_MET
    assert judged(rows, hold, proven, 70, turnings=[49.5]).met_at == 49.5 * H
    assert judged(days(2, turnings=Turnings(count=1)), hold, proven, 70, turnings=[60]).met_at == 60 * H


def test_recovery_is_over_where_the_hold_runs_on_through_the_turning():
    # Turned at 26 h and hot for ten hours more: the dip after that is not the turning's.
    hold, proven = [(0, 36), (37, 80)], [(0, 80)]
    assert judged(days(3), hold, proven, 80, turnings=[26]).values["days"] == 2
    # It fell within two hours of it: that is.
    assert judged(days(3), [(0, 27.9), (37, 80)], proven, 80, turnings=[26]).met_at == 72 * H


def test_a_fall_before_the_entry_belongs_to_the_turning():
    # The probes felt the air at 30 h; it was logged at 31.5 h, when all was done.
    hold, proven = [(0, 30), (33, 100)], [(0, 31.5), (32.5, 100)]
    sets = HoldSet(basis=HoldBasis.COLDEST, proven=ms(proven), hold=ms(hold), probes=())
    told = {"max_gap_ms": FAR_AHEAD_MS, "start": 0, "end": 100 * H, "turnings": [round(31.5 * H)]}
    assert evaluate(Question(rule=rule_of(*days(4)), **told), [sets]).values["days"] == 3
    felt = evaluate(Question(rule=rule_of(*days(4)), **told), [sets], falls=[(round(31.5 * H), 30 * H)])
    assert felt.met_at == 96 * H
    # Its recovery runs from there: 24 h, and no longer.
    long = HoldSet(basis=HoldBasis.COLDEST, proven=((0, 120 * H),), hold=ms([(0, 26), (50.5, 120)]), probes=())
    told = {"max_gap_ms": FAR_AHEAD_MS, "start": 0, "end": 120 * H, "turnings": [27 * H]}
    assert evaluate(Question(rule=rule_of(*days(3)), **told), [long], falls=[(27 * H, 26 * H)]).values["days"] == 3
    assert [day.kind.value for day in evaluate(Question(rule=rule_of(*days(3)), **told), [long]).days][:3] == [
        "counted", "failed", "counted",
    ]  # fmt: skip


def test_which_days_do_not_count_and_why():
    hold, proven = [(0, 30), (31, 60), (70, 120)], [(0, 60), (70, 120)]
    finding = judged(days(9), hold, proven, 120)
    kinds = ["counted", "failed", "counted", "too much unproven", "counted", "not decided"]
    assert [day.kind.value for day in finding.days] == kinds
    assert "not within the limits from 1970-01-02T06:00:00.000Z on (1 h, the last of it at" in finding.days[1].why
    assert finding.days[3].why == "10 h of it is not proven"
    assert finding.reasons[1].startswith(
        "2 days do not count: that from 1970-01-02T00:00:00.000Z: not within the limits"
    )


def test_the_other_reading_stands_beside_where_days_must_follow_one_another():
    hold, proven = [(0, 75), (76, 110)], [(0, 110)]
    finding = judged(days(4, consecutive=True), hold, proven, 110)
    assert (finding.outcome, finding.scattered, finding.unbroken) == (Outcome.NOT_MET, Outcome.MET, Outcome.NOT_MET)
    assert "at most 3 follow one another, 1 at the end" in finding.reasons[0]
    assert judged(days(4), hold, proven, 110).scattered is None


def test_a_day_of_mere_recovery_neither_counts_nor_breaks():
    # Nor does a day that was mostly spent recovering.
    assert judged(days(2), [(0, 30), (44, 80)], [(0, 80)], 80, turnings=[29]).met_at == 72 * H
    slow = judged(days(3), [(0, 26), (49, 100)], [(0, 100)], 100, turnings=[25.5])
    assert slow.met_at == 96 * H


def test_bad_hours_in_a_day_hardly_known_do_not_break_it():
    # Day two: 2 h hold, 2 h cold, the rest unproven.
    finding = judged(days(2, consecutive=True), [(0, 26), (48, 96)], [(0, 28), (48, 96)], 96)
    assert finding.met_at == 96 * H
    # A doubt is none where what is proven of it would fail the day all the same.
    assert judged(days(3), [(0, 26), (48, 96)], [(0, 28), (48, 96)], 96).met_at == 96 * H
    assert judged(days(4), [(0, 26), (48, 96)], [(0, 28), (48, 96)], 96).outcome is Outcome.NOT_MET


def test_a_failed_day_is_dropped_and_the_next_begins_with_the_hold():
    finding = judged(days(4), [(0, 48), (49, 97)], [(0, 97)], 97)
    assert finding.met_at == 97 * H
    assert judged(days(4, consecutive=True), [(0, 48), (49, 97)], [(0, 97)], 97).outcome is Outcome.NOT_MET
    strung = judged(days(4, consecutive=True), [(0, 48), (49, 145)], [(0, 145)], 145)
    assert strung.met_at == 145 * H


def test_a_single_cold_reading_breaks_a_day_and_a_run():
    hold, proven = [(0, 15), (20, 48)], [(0, 15), (17, 17), (20, 48)]
    assert judged(days(2), hold, proven, 48).outcome is Outcome.NOT_MET
    assert judged(days(2), hold, [(0, 15), (20, 48)], 48).outcome is Outcome.NOT_PROVEN
    run = [Run(duration_ms=40 * H)]
    assert judged(run, hold, proven, 48).outcome is Outcome.NOT_MET
    assert judged(run, hold, [(0, 15), (20, 48)], 48).outcome is Outcome.NOT_PROVEN


def test_turnings_count_between_the_first_day_and_the_last_hold_instant():
    part = days(2, turnings=Turnings(count=2))
    hold, proven = [(0, 2), (40, 100)], [(0, 110)]
    # The first hold is a day that failed: what was turned then lies outside the span.
    assert judged(part, hold, proven, 110, turnings=[1, 50]).turnings == 1
    assert judged(part, hold, proven, 110, turnings=[41, 50]).met_at == 88 * H
    # Turned at the very end: counts only where a hold instant follows.
    assert judged(part, hold, proven, 110, turnings=[50, 100]).met_at == 100 * H
    assert judged(part, hold, proven, 110, turnings=[50, 100.001]).outcome is Outcome.NOT_MET
    assert judged(part, [(40, 100), (105, 106)], [(40, 110)], 110, turnings=[50, 101]).met_at == 105 * H


def test_turnings_of_a_run_lie_within_that_run():
    part = [Run(duration_ms=10 * H, turnings=Turnings(count=2, apart_ms=7 * H))]
    hold = [(0, 12), (13, 30)]
    assert judged(part, hold, [(0, 30)], 30, turnings=[3, 14]).outcome is Outcome.NOT_MET
    assert judged(part, hold, [(0, 30)], 30, turnings=[14, 20, 28]).met_at == 28 * H
    assert judged(part, hold, [(0, 30)], 30, turnings=[0, 7]).met_at == 10 * H


def test_a_run_that_is_named_is_told_with_the_turnings_in_it():
    part = [Run(duration_ms=20 * H, turnings=Turnings(count=5))]
    # The longest run has all four turnings; the one that goes on at the end has none.
    finding = judged(part, [(0, 40), (41, 50)], [(0, 50)], 50, turnings=[2, 10, 20, 30])
    assert "longest proven run 40 h" in finding.reasons[0]
    assert "needs 5 turnings within that time, 4 counted" in finding.reasons[0]
    assert "too close" not in finding.reasons[0]


def test_entries_of_one_turning_count_once_and_recovery_follows_the_last_of_them():
    part = days(3, turnings=Turnings(count=2))
    hold, proven = [(0, 30), (35, 100)], [(0, 100)]
    finding = judged(part, hold, proven, 100, turnings=[30, 26, 27])
    assert (finding.turnings, finding.turnings_logged) == (1, 3)
    assert "1 counted (of 3 logged, 2 within 6 h of another are one with it)" in finding.reasons[0]
    # The entry at 30 h is one with that at 26 h, yet the cold until 35 h is its recovery: the day counts.
    assert finding.values["days"] == 4
    assert judged(part, hold, proven, 100, turnings=[32.001, 26]).turnings == 2


def test_a_total_adds_up_and_its_turnings_lie_between_first_and_last_hold():
    part = [Total(duration_ms=10 * H, turnings=Turnings(count=1))]
    hold = [(5, 9), (20, 40)]
    assert judged(part, hold, [(0, 40)], 40, turnings=[5]).met_at == 26 * H
    assert judged(part, hold, [(0, 40)], 40, turnings=[33]).met_at == 33 * H
    assert judged(part, hold, [(0, 40)], 40, turnings=[4]).outcome is Outcome.NOT_MET
    assert judged([Total(duration_ms=24 * H + 1)], hold, [(0, 40)], 40).outcome is Outcome.NOT_MET


def test_parts_joined_by_all_and_any():
    parts = [Run(duration_ms=10 * H), Total(duration_ms=15 * H)]
    hold = [(0, 10), (20, 30)]
    assert judged(parts, hold, [(0, 40)], 40).met_at == 25 * H
    assert judged(parts, hold, [(0, 40)], 40, join=Join.ANY).met_at == 10 * H
    short = judged(parts, [(0, 9), (20, 30)], [(0, 22)], 24)
    assert short.outcome is Outcome.NOT_MET


def test_not_proven_only_where_the_unproven_time_would_do():
    run = [Run(duration_ms=72 * H)]
    assert judged(run, [(0, 40)], [(0, 40)], 72).outcome is Outcome.NOT_PROVEN
    assert judged(run, [(0, 40)], [(0, 40)], 71.999).outcome is Outcome.NOT_MET
    assert judged(run, [(0, 40)], [(0, 41)], 200).outcome is Outcome.NOT_PROVEN
    assert judged(run, [], [], 72).outcome is Outcome.NOT_PROVEN
    # What lies outside the record's ends is no unproven time of it.
    assert judged(run, [(0, 40)], [(0, 40)], 72, start=1).outcome is Outcome.NOT_MET
    # Turnings nobody logged are not in doubt: they are missing.
    assert judged(days(2, turnings=Turnings(count=1)), [], [], 100).outcome is Outcome.NOT_MET


def test_doubt_never_shortens_a_recovery():
    # Turned at 30 h, a gap at 31 h, still cold at 34 h, back at 36 h.
    hold = [(0, 30), (36, 70), (93, 96)]
    whole = judged(days(4), [(0, 30), (36, 96)], [(0, 31), (34, 96)], 96, turnings=[30])
    assert whole.met_at == 96 * H
    # With a later gap it is not proven: the hope for the first gap may not end the recovery in it.
    assert judged(days(4), hold, [(0, 31), (34, 70), (93, 96)], 96, turnings=[30]).outcome is Outcome.NOT_PROVEN


def test_new_material_makes_what_was_before_count_no_more():
    run = [Run(duration_ms=72 * H)]
    assert judged(run, [(0, 100)], [(0, 100)], 100, restarts=[0, 28]).met_at == 100 * H
    finding = judged(run, [(0, 100)], [(0, 100)], 100, restarts=[29, 0])
    assert (finding.outcome, finding.counts_from, finding.total_ms) == (Outcome.NOT_MET, 29 * H, 71 * H)
    assert (
        judged(days(1, turnings=Turnings(count=1)), [(0, 60)], [(0, 60)], 60, turnings=[20], restarts=[30]).turnings
        == 0
    )


def test_the_sums_of_a_finding():
    finding = judged([Run(duration_ms=72 * H)], [(1, 5), (6, 12)], [(1, 13)], 20)
    assert finding.total_ms == 10 * H
    assert finding.longest_run == (6 * H, 12 * H)
    assert finding.unproven_ms == 8 * H
    assert finding.hold == ((H, 5 * H), (6 * H, 12 * H))
    assert finding.values == {"run_h": 0, "longest_run_h": 6, "needed_h": 72}


def test_of_several_alternatives_the_best_is_told():
    rule = load_rule("de-bioabfv")
    warm = HoldSet(basis=HoldBasis.COLDEST, proven=((0, 20 * D),), hold=((0, 13 * D),), probes=())
    hot = HoldSet(basis=HoldBasis.COLDEST, proven=((0, 20 * D),), hold=((0, 6 * D),), probes=())
    none = HoldSet(basis=HoldBasis.COLDEST, proven=((0, 20 * D),), hold=(), probes=())
    finding = evaluate(Question(rule=rule, max_gap_ms=FAR_AHEAD_MS, start=0, end=20 * D), [warm, hot, none])
    assert (finding.outcome, finding.alternative, finding.met_at) == (Outcome.MET, 1, 6 * D)
    finding = evaluate(Question(rule=rule, max_gap_ms=FAR_AHEAD_MS, start=0, end=20 * D), [warm, none, none])
    assert (finding.outcome, finding.alternative) == (Outcome.NOT_MET, 0)


def test_on_basis_each_the_worst_probe_is_the_verdict():
    probes = (
        ProbeSets(probe="a", proven=((0, 100 * H),), hold=((0, 90 * H),)),
        ProbeSets(probe="b", proven=((0, 100 * H),), hold=((10 * H, 85 * H),)),
    )
    sets = HoldSet(basis=HoldBasis.EACH, proven=((0, 100 * H),), hold=((10 * H, 85 * H),), probes=probes)
    finding = evaluate(
        Question(rule=rule_of(Run(duration_ms=72 * H)), max_gap_ms=FAR_AHEAD_MS, start=0, end=100 * H), [sets]
    )
    assert (finding.outcome, finding.met_at, finding.probe, finding.total_ms) == (Outcome.MET, 82 * H, "b", 75 * H)
    # Each alternates: together they are never within the limits, each by itself long enough.
    turns = (
        ProbeSets(probe="a", proven=((0, 100 * H),), hold=((0, 49 * H),)),
        ProbeSets(probe="b", proven=((0, 100 * H),), hold=((50 * H, 100 * H),)),
    )
    sets = HoldSet(basis=HoldBasis.EACH, proven=((0, 100 * H),), hold=(), probes=turns)
    finding = evaluate(
        Question(rule=rule_of(Run(duration_ms=48 * H)), max_gap_ms=FAR_AHEAD_MS, start=0, end=100 * H), [sets]
    )
    assert (finding.outcome, finding.hold) == (Outcome.MET, ())


def test_the_sentence_of_a_run():
    start = parse_time("2026-03-04T06:00:00Z")
    sets = HoldSet(
        basis=HoldBasis.COLDEST,
        proven=((start, start + 90 * H),),
        hold=((start, start + 61 * H + 20 * 60_000),),
        probes=(),
    )
    finding = evaluate(
        Question(rule=load_rule("us-112-54-static"), max_gap_ms=FAR_AHEAD_MS, start=start, end=start + 90 * H), [sets]
    )
    assert finding.reasons == (
        (
            "needs 72 h unbroken at 131 °F (55 °C) or above; longest proven run 61 h 20 min, "
            "from 2026-03-04T06:00:00.000Z to 2026-03-06T19:20:00.000Z"
        ),
    )


@pytest.mark.parametrize(
    ("short_ms", "words"),
    [(1, "71 h 59 min 59.999 s"), (1000, "71 h 59 min 59 s"), (60_000, "71 h 59 min"), (3_600_000, "71 h")],
)
def test_just_under_the_limit_never_looks_like_the_limit(short_ms, words):
    finding = judged([Run(duration_ms=72 * H)], [(0, (72 * H - short_ms) / H)], [(0, 80)], 80)
    assert f"longest proven run {words}, from" in finding.reasons[0]


@pytest.mark.parametrize(
    ("lasting_ms", "words"),
    [
        (1, "0.001 s"),
        (59_999, "59.999 s"),
        (61_000, "1 min 1 s"),
        (H + 1000, "1 h 1 s"),
        (72 * H, "72 h"),
        (72 * H + 1, "72 h 0.001 s"),
        (72 * H + 1000, "3 days 1 s"),
        (4 * D, "4 days"),
        (5 * D + 23 * H + 59 * 60_000 + 59_999, "5 days 23 h 59 min 59.999 s"),
    ],
)
def test_a_duration_is_told_to_the_millisecond(lasting_ms, words):
    finding = judged([Run(duration_ms=72 * D)], [(0, lasting_ms / H)], [(0, 24 * 80)], 24 * 80)
    assert f"longest proven run {words}, from" in finding.reasons[0]


ROW = days(9, consecutive=True)[0]
BEFORE = RunBeforeTurnings(duration_ms=10 * H, count=3)
FOUR = Turnings(count=4, apart_ms=48 * H)


@pytest.mark.parametrize(
    ("part", "hold", "turnings", "words"),
    [
        # Days in a row: the longest row is told where another stands at the end.
        (ROW, [(0, 24)], [], "1 day counts, first hold"),
        (ROW, [(0, 72)], [], "3 days count, first hold"),
        (ROW, [(0, 72), (73, 97.5)], [], "at most 3 follow one another, 1 at the end, first hold"),
        (ROW, [(0, 24), (25, 49)], [], "1 day counts, first hold"),
        (ROW, [(0, 24.5), (25, 26)], [], "at most 1 follows one another, 0 at the end, first hold"),
        (days(9)[0], [(0, 24), (25, 49)], [], "2 days count, first hold"),
        # Runs before turnings.
        (BEFORE, [(0, 11)], [11], "1 of 1 logged turning count; longest proven run 11 h"),
        (BEFORE, [(0, 30)], [11, 13, 30], "2 of 3 logged turnings count (1 within 6 h of another is one with it); longest"),
        (BEFORE, [(0, 30)], [11, 12, 13], "1 of 3 logged turnings count (2 within 6 h of another are one with it); longest"),
        (BEFORE, [(0, 9)], [9], "0 of 1 logged turning count; longest proven run 9 h"),
        # Turnings that count and those that do not.
        (Run(duration_ms=99 * H, turnings=FOUR), [(0, 60)], [1, 50],
         "needs 4 turnings at least 48 h apart within that time, 2 counted"),
        (Run(duration_ms=99 * H, turnings=FOUR), [(0, 60)], [1, 20, 70],
         "1 counted (of 3 logged, 2 lie outside it or too close together)"),
        (Run(duration_ms=99 * H, turnings=FOUR), [(0, 60)], [1, 2, 20],
         "1 counted (of 3 logged, 1 within 6 h of another is one with it and 1 lies outside it or too close together)"),
        (Total(duration_ms=99 * H, turnings=Turnings(count=1)), [(5, 60)], [1], "needs 1 turning within that time, 0 counted"),
    ],
)  # fmt: skip
def test_what_there_was_is_told_in_whole_sentences(part, hold, turnings, words):
    end = max(hold[-1][1], *turnings, 0)
    finding = judged([part], hold, [(0, end)], end, turnings=turnings)
    assert finding.outcome is Outcome.NOT_MET
    assert words in finding.reasons[0]


def test_of_many_days_that_do_not_count_ten_are_named():
    hold = [(25 * n, 25 * n + 23.5) for n in range(12)]
    for count, more in ((9, ""), (10, ""), (11, "; and 1 more"), (12, "; and 2 more")):
        finding = judged(days(30), hold[:count], [(0, 25 * count)], 25 * count)
        assert finding.reasons[1].startswith(f"{count} days do not count: that from")
        assert finding.reasons[1].count("that from") == min(count, 10)
        assert finding.reasons[1].endswith(more or ")")
    assert judged(days(30), hold[:1], [(0, 25)], 25).reasons[1].startswith("1 day does not count: that from")


def test_the_sentences_of_days_and_turnings():
    part = days(15, turnings=Turnings(count=5, apart_ms=2 * D))
    finding = judged(part, [(24, 24 * 10)], [(0, 24 * 20)], 24 * 20, turnings=[1, 50, 60, 120])
    assert finding.reasons[:1] == (
        (
            "needs 15 days at 131 °F (55 °C) or above; 9 days count, first hold at 1970-01-02T00:00:00.000Z; "
            "needs 5 turnings at least 48 h apart within that time, 2 counted "
            "(of 4 logged, 2 lie outside it or too close together)"
        ),
    )
    assert finding.unbroken is Outcome.NOT_MET
    assert finding.unbroken_reasons[0].startswith(
        "needs 15 days unbroken at 131 °F (55 °C) or above; longest proven run"
    )


def test_the_other_sentences():
    assert judged([Run(duration_ms=H)], [], [(0, 5)], 5).reasons == (
        "needs 1 h unbroken at 131 °F (55 °C) or above; never proven within these limits",
    )
    assert judged([Run(duration_ms=H)], [(0, 5)], [(0, 5)], 5).reasons == (
        "needs 1 h unbroken at 131 °F (55 °C) or above; met at 1970-01-01T01:00:00.000Z",
    )
    assert judged([Total(duration_ms=9 * H)], [(0, 5)], [(0, 6)], 7).reasons == (
        (
            "needs 9 h in all at 131 °F (55 °C) or above; proven 5 h in all, "
            "from 1970-01-01T00:00:00.000Z to 1970-01-01T05:00:00.000Z"
        ),
    )
    one = judged(days(2, consecutive=True), [(0, 25)], [(0, 30)], 30)
    assert one.reasons[0].startswith(
        "needs 2 days that follow one another at 131 °F (55 °C) or above; at most 1 follows one another, 0 at the end,"
    )
    limits = Limits(low_milli_c=55_000, high_milli_c=76_667, strict=True, low_text="55 °C", high_text="170 °F")
    sets = HoldSet(basis=HoldBasis.COLDEST, proven=(), hold=(), probes=())
    finding = evaluate(
        Question(rule=rule_of(Run(duration_ms=H), limits=limits), max_gap_ms=FAR_AHEAD_MS, start=0, end=0), [sets]
    )
    assert finding.reasons[0].startswith("needs 1 h unbroken above 55 °C and at most 170 °F (76.7 °C); never")


def test_strict_limits_reach_the_verdict():
    # standards 8.2 row 9 (40 CFR 503 App. B A.4 "exceeds", seen second hand): a block at exactly 55.0 is no block.
    limits = Limits(low_milli_c=55_000, strict=True)
    rule = rule_of(Run(duration_ms=4 * H), limits=limits)
    for milli_c, outcome in ((55_000, Outcome.NOT_MET), (55_001, Outcome.MET)):
        times = np.arange(0, 4 * H + 1, H // 2, dtype=np.int64)
        readings = Series(probe="a", times=times, milli_c=np.full(times.shape, milli_c, dtype=np.int64))
        assert prove(Question(rule=rule, max_gap_ms=H), [readings]).outcome is outcome


def test_what_cannot_be_judged_is_the_callers_mistake():
    empty = HoldSet(basis=HoldBasis.COLDEST, proven=(), hold=(), probes=())
    with pytest.raises(ValueError, match="rule de-bioabfv has 3 sets of limits but 1 hold sets came"):
        evaluate(Question(rule=load_rule("de-bioabfv"), max_gap_ms=FAR_AHEAD_MS, start=0, end=1), [empty])
    with pytest.raises(ValueError, match="cannot start at 2 and end at 1"):
        evaluate(Question(rule=rule_of(Run(duration_ms=1)), max_gap_ms=FAR_AHEAD_MS, start=2, end=1), [empty])
    with pytest.raises(ValueError, match="a record without ends cannot be judged"):
        evaluate(Question(rule=rule_of(Run(duration_ms=1)), max_gap_ms=FAR_AHEAD_MS, start=2), [empty])
    with pytest.raises(ValueError, match="no probe has a reading"):
        prove(Question(rule=rule_of(Run(duration_ms=1)), max_gap_ms=1), [])
