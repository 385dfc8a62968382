"""A bin's year: days past a limit as its alarms count them, food by the month, harvests; and the time in alarm."""

from datetime import date
from itertools import pairwise
from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st

from monitor.material import YardOfMaterial, read_log
from monitor.model.alarm_kinds import Alarm
from monitor.model.effects import Draft, Effect, EffectKind
from monitor.model.thresholds import BinThresholds
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.words import AlarmState
from monitor.model.work import Work, WorkKind
from monitor.reports import BinYear, bin_year, season_named, time_in_alarm
from tests.unit.material.material_yard import BINS, HalfDry, NaiveHeaps

ZONE = ZoneInfo("America/New_York")
YEAR = season_named("2026", ZONE)
LIMITS = BinThresholds()
HOT, DANGER, NEAR, FROST = (
    LIMITS.overheating_milli_c, LIMITS.danger_any_milli_c, LIMITS.near_freezing_milli_c, LIMITS.freezing_milli_c,
)  # fmt: skip
S = AlarmState


def year(*works: Work, heat=None, damp=None, in_alarm=()) -> BinYear:
    record = read_log(
        enumerate(works, 1), YardOfMaterial(NaiveHeaps(list(works)), HalfDry(), BINS, lambda at: f"day{at // DAY_MS}")
    )
    return bin_year("b1", LIMITS, YEAR, record, heat or {}, damp or {}, in_alarm)


def work(day: float, kind: WorkKind, place: str = "b1", amount: str = "2 kg", **fields: str) -> Work:
    number, _, unit = amount.partition(" ")
    return Work(
        time=YEAR.start + round(day * DAY_MS), place=place, kind=kind, amount=number, measure=unit, unit=unit, **fields
    )


def test_a_day_on_the_limit_is_past_it_as_for_the_alarm():
    first, second, third, fourth = (date(2026, 7, day) for day in (1, 2, 3, 4))
    heat = {first: (20_000, HOT), second: (20_000, HOT - 1), third: (20_000, DANGER), fourth: (20_000, DANGER + 1)}
    found = year(heat=heat)
    assert (found.hot, found.danger) == ([first, third, fourth], [fourth])
    cold = {first: (NEAR, 9_000), second: (NEAR + 1, 9_000), third: (FROST, 9_000), fourth: (FROST + 1, 9_000)}
    found = year(heat=cold)
    assert (found.near_frost, found.frost) == ([first, third, fourth], [third])


def test_food_by_the_month_of_the_yard_and_of_this_bin_alone():
    found = year(
        work(0.1, WorkKind.FED, what="scraps"),
        work(30.9, WorkKind.FED, what="scraps", amount="3 kg"),
        work(31.1, WorkKind.FED, what="scraps", amount="4 kg"),
        work(31.2, WorkKind.FED, "b2", what="scraps", amount="50 kg"),
        work(-0.1, WorkKind.FED, what="scraps", amount="60 kg"),
    )
    assert {month: mass.known_g for month, mass in found.fed.items()} == {"2026-01": 5_000, "2026-02": 4_000}
    assert (found.fed_in_all.known_g, found.fed_in_all.entries) == (9_000, 3)


def test_harvests_of_this_bin_in_order():
    found = year(
        work(0, WorkKind.BEDDED, what="leaves", amount="40 kg"),
        work(90, WorkKind.HARVESTED, amount="12 kg", moisture="70"),
        work(10, WorkKind.HARVESTED, amount="8 kg", moisture="70"),
        work(20, WorkKind.HARVESTED, "b2", amount="7 kg", moisture="70"),
    )
    assert [(one.at, one.mass.known_g) for one in found.taken] == [
        (YEAR.start + 10 * DAY_MS, 8_000), (YEAR.start + 90 * DAY_MS, 12_000),
    ]  # fmt: skip
    assert found.taken_in_all.known_g == 20_000


def test_a_year_of_which_nothing_is_known_says_so():
    assert year().empty
    assert not year(damp={date(2026, 1, 1): (70_000, 71_000)}).empty


def test_the_days_of_an_alarm_are_those_that_it_touches_within_the_year():
    evening, morning = YEAR.start + 10 * DAY_MS - HOUR_MS, YEAR.start + 11 * DAY_MS + HOUR_MS
    found = year(in_alarm=[(evening, morning), (YEAR.start - DAY_MS, YEAR.start + 1), (YEAR.end, YEAR.end + 5)])
    assert found.alarmed == [date(2026, 1, 1), date(2026, 1, 10), date(2026, 1, 11), date(2026, 1, 12)]
    ends_at_midnight = year(in_alarm=[(evening, YEAR.start + 11 * DAY_MS)])
    assert ends_at_midnight.alarmed == [date(2026, 1, 10), date(2026, 1, 11)]


def alarm(
    at: int, after: AlarmState, *, since: int | None = None, axis: str = Alarm.OVERHEATING, place: str = "b1"
) -> Effect:
    draft = Draft(
        place=place, kind=EffectKind.ALARM, axis=axis, before=None, after=after, why="", reason="",
        since=at if since is None else since,
    )  # fmt: skip
    return Effect(at=at, ordinal=0, draft=draft)


def test_an_alarm_is_on_from_its_condition_until_it_is_over_or_muted():
    effects = [
        alarm(100, S.UNACKNOWLEDGED, since=60),
        alarm(150, S.ACKNOWLEDGED, since=60),
        alarm(200, S.NORMAL, since=60),
        alarm(300, S.UNACKNOWLEDGED),
        alarm(340, S.SUPPRESSED),
        alarm(400, S.UNACKNOWLEDGED),
        alarm(420, S.UNACKNOWLEDGED, place="b2"),
        alarm(430, S.UNACKNOWLEDGED, axis=Alarm.TOO_WET),
    ]
    assert time_in_alarm(effects, "b1", (Alarm.OVERHEATING,), 500) == [(60, 200), (300, 340), (400, 500)]
    assert time_in_alarm(effects, "b1", (Alarm.TOO_WET,), 500) == [(430, 500)]
    assert time_in_alarm([], "b1", (Alarm.TOO_WET,), 500) == []


@given(st.lists(st.tuples(st.integers(1, 50), st.sampled_from(list(AlarmState)))))
def test_time_in_alarm_never_overlaps_nor_runs_backwards(steps):
    at, effects = 0, []
    for gap, state in steps:
        at += gap
        effects.append(alarm(at, state))
    found = time_in_alarm(effects, "b1", (Alarm.OVERHEATING,), at)
    assert all(start <= end for start, end in found)
    assert all(one[1] <= other[0] for one, other in pairwise(found))
