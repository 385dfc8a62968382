"""The rule of the record, the check on itself, and which forecast counts."""

from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from monitor.forecast import (
    FRESH_MS,
    Expected,
    Predicted,
    Reach,
    RecordRule,
    Score,
    Trouble,
    Whence,
    enough,
    held_against_itself,
    outlook,
    past_of,
    persistence,
)
from monitor.model.times import HOUR_MS
from monitor.model.units import celsius_milli

RULE = RecordRule(within_milli_k=4_444, days=3)
JULY = date(2026, 7, 1)
NOW = 1_784_500_000_000


def f(degrees):
    return celsius_milli(degrees, "degF")


def days(*figures, start=JULY, whole=True):
    """Return the reaches of days in a row by their highs in °F; the lows lie 20 °F below."""
    return {start + timedelta(days=n): Reach(f(high - 20), f(high), whole) for n, high in enumerate(figures)}


def heat(bin_highs, air_highs, acted=(), limit=85, whole=True):
    return past_of(Trouble.HEAT, f(limit), days(*bin_highs, whole=whole), days(*air_highs), acted)


def asked(past, air, place, today=JULY + timedelta(days=30)):
    return RULE.foresee(past, today, f(air), f(place))


def test_three_days_no_hotter_that_passed_speak_for_it():
    past = heat((80, 86, 80, 87, 81, 86), (80, 95, 80, 96, 80, 94))
    assert asked(past, 97, 82) == Expected(days=3, against=0, last=JULY + timedelta(days=5))
    assert asked(past, 95, 82) is None, "only two of them were no hotter than 95 °F"
    assert asked(past, 97, 79) is None, "before each of them the bin was warmer than it is today"


def test_days_far_milder_than_tomorrow_are_not_asked():
    past = heat((80, 86, 80, 87, 81, 86), (80, 88, 80, 88, 80, 88))
    assert asked(past, 96, 82) is not None
    assert asked(past, 97, 82) is None, "88 °F lies more than 8 °F below"


def test_days_as_hot_that_stayed_calm_speak_against_it():
    calm = heat((80, 86, 80, 87, 81, 86, 82, 84), (80, 95, 80, 96, 80, 94, 80, 97))
    assert asked(calm, 97, 82) is None, "three speak for it and one against: less than nine in ten"


def test_a_calm_day_after_somebody_shaded_it_tells_nothing():
    acted = {JULY + timedelta(days=7)}
    past = heat((80, 86, 80, 87, 81, 86, 82, 84), (80, 95, 80, 96, 80, 94, 80, 97), acted)
    assert asked(past, 97, 82) == Expected(days=3, against=0, last=JULY + timedelta(days=5))


def test_a_day_with_gaps_is_no_calm_day_but_may_have_passed():
    past = heat((80, 86, 80, 87, 81, 86, 82, 84), (80, 95, 80, 96, 80, 94, 80, 97), whole=False)
    assert asked(past, 97, 82) is not None


def test_air_with_gaps_is_asked_for_nothing():
    bed = days(80, 86, 80, 87, 81, 86)
    past = past_of(Trouble.HEAT, f(85), bed, days(80, 95, 80, 96, 80, 94, whole=False))
    assert (past.days, past.air) == ((), {})


def test_the_record_after_today_is_not_looked_at():
    past = heat((80, 86, 80, 87, 81, 86), (80, 95, 80, 96, 80, 94))
    assert asked(past, 97, 82, today=JULY + timedelta(days=4)) is None


def test_frost_is_heat_with_the_sign_turned():
    bed = {JULY + timedelta(days=n): Reach(f(low), f(70)) for n, low in enumerate((50, 42, 50, 41, 49, 43))}
    air = {JULY + timedelta(days=n): Reach(f(low), f(60)) for n, low in enumerate((45, 30, 45, 29, 45, 31))}
    past = past_of(Trouble.FROST, f(43), bed, air)
    assert RULE.foresee(past, JULY + timedelta(days=9), -f(28), -f(48)) == Expected(3, 0, JULY + timedelta(days=5))
    assert RULE.foresee(past, JULY + timedelta(days=9), -f(33), -f(48)) is None, "a milder night"


MILLI = st.integers(-40_000, 60_000)
RECORDS = st.lists(
    st.tuples(st.booleans(), MILLI, st.integers(0, 20_000), MILLI, st.integers(0, 20_000), st.booleans()), max_size=60
)


def _past(record, trouble=Trouble.HEAT):
    bed, air, acted = {}, {}, set()
    for n, (there, low, span, air_low, air_span, shaded) in enumerate(record):
        day = JULY + timedelta(days=n)
        if there:
            bed[day], air[day] = Reach(low, low + span), Reach(air_low, air_low + air_span)
        if shaded:
            acted.add(day)
    return past_of(trouble, f(85) if trouble is Trouble.HEAT else f(43), bed, air, acted)


@given(RECORDS, MILLI, MILLI, st.sampled_from(Trouble))
def test_what_is_expected_is_borne_out_by_the_record(record, air, place, trouble):
    past = _past(record, trouble)
    found = RULE.foresee(past, JULY + timedelta(days=90), air, place)
    if found is not None:
        for_it = [one for one in past.days if one.passed and one.air <= air and one.before <= place]
        assert len(for_it) >= found.days >= 3
        assert found.last in [one.day for one in for_it]
        assert 9 * (found.days + found.against) <= 10 * found.days


@given(RECORDS, MILLI, MILLI, st.integers(0, 59))
def test_later_days_change_nothing(record, air, place, cut):
    today = JULY + timedelta(days=cut)
    assert RULE.foresee(_past(record), today, air, place) == RULE.foresee(_past(record[: cut + 1]), today, air, place)


@given(RECORDS, st.booleans(), st.booleans())
def test_its_score_counts_no_more_than_it_asked(record, calm, persists):
    past = _past(record)
    score = held_against_itself(RULE, past, JULY + timedelta(days=60), {}, after_calm=calm, persists=persists)
    assert 0 <= score.right <= score.calls <= 10
    assert persists or score.calls == 0


class _Always:
    def foresee(self, past, today, air, place):
        del past, today, air, place
        return Expected(9, 0, JULY)


def test_it_is_judged_by_its_newest_evenings_of_the_same_kind():
    past = heat((80, 86, 80, 80, 86, 80), (90, 90, 90, 90, 90, 90))
    today = JULY + timedelta(days=5)
    calm = held_against_itself(_Always(), past, today, {}, after_calm=True, persists=True)
    assert calm == Score(right=2, calls=3), "80 → 86 twice, 80 → 80 once"
    assert held_against_itself(_Always(), past, today, {}, after_calm=False, persists=True) == Score(0, 2)
    said = {JULY + timedelta(days=1): f(97)}
    assert held_against_itself(_Always(), past, today, said, after_calm=True, persists=False) == Score(1, 1)


def test_days_on_which_somebody_acted_do_not_judge_it():
    past = heat((80, 80, 80, 80), (90, 90, 90, 90), acted={JULY + timedelta(days=1), JULY + timedelta(days=2)})
    score = held_against_itself(_Always(), past, JULY + timedelta(days=3), {}, after_calm=True, persists=True)
    assert score == Score(0, 1)


def test_a_rule_that_was_wrong_too_often_keeps_silent():
    assert enough(Score(0, 2)), "too few to judge it"
    told = [enough(Score(right, calls)) for right, calls in ((2, 3), (1, 3), (6, 10), (7, 10))]
    assert told == [True, False, False, True]


def said(high, given=NOW, day=JULY, low=None, by="Ann"):
    return Predicted(day=day, high=high, low=low, given=given, whence=Whence.TYPED, by=by)


def test_the_newest_forecast_of_that_day_counts():
    given_ = [said(30_000, NOW - HOUR_MS), said(36_000, NOW - 1), said(20_000, day=JULY + timedelta(days=1))]
    found = outlook(given_, Trouble.HEAT, JULY, NOW)
    assert found is not None
    assert found.milli_c == 36_000
    assert outlook(given_, Trouble.FROST, JULY, NOW) is None, "nobody said a low"


@given(st.lists(st.tuples(st.integers(-5, 5), st.integers(-100, 100), st.integers(-20_000, 40_000)), max_size=8))
def test_a_forecast_of_another_day_or_an_old_one_is_never_used(told):
    given_ = [said(milli, NOW + hours * HOUR_MS, JULY + timedelta(days=n)) for n, hours, milli in told]
    found = outlook(given_, Trouble.HEAT, JULY, NOW)
    good = [one for one in given_ if one.day == JULY and NOW - FRESH_MS < one.given <= NOW]
    assert (found is None) is (not good)
    assert found is None or found.milli_c in [one.high for one in good]


def test_tomorrow_is_as_today_for_heat_alone():
    air = {JULY: Reach(10_000, 33_000), JULY + timedelta(days=1): Reach(10_000, 33_000, whole=False)}
    found = persistence(air, Trouble.HEAT, JULY + timedelta(days=1))
    assert found is not None
    assert (found.milli_c, found.whence) == (33_000, Whence.TODAY)
    assert persistence(air, Trouble.FROST, JULY + timedelta(days=1)) is None
    assert persistence(air, Trouble.HEAT, JULY + timedelta(days=2)) is None, "that day was not measured whole"
    assert persistence(air, Trouble.HEAT, JULY) is None
