"""Whoever turns as often as people do, or more often than the rule asks, keeps the days: recovery is bounded, not forbidden."""

import pytest
from test_cases_files import HOUR, T0, case_of, line, work

from monitor.app.cases.verdict_words import verdict_lines
from monitor.certificate import judge_case

__all__ = ["case_of"]


def heap(turnings, days, recovery_h, hot=62, hold=55):
    """Return readings (ten minutes apart) and a work log: at each turning to 35 °C, and evenly back to the hold."""
    readings, last = [], None
    for minute in range(0, days * 24 * 60 + 1, 10):
        last = max((at for at in turnings if at * 60 <= minute), default=last)
        heat = hot if last is None else min(hot, 35 + (hold - 35) * (minute / 60 - last) / recovery_h)
        readings.append(line(T0 + minute * 60_000, f"{heat:.2f}"))
    log = "".join(work(T0 + round(at * HOUR), "turned") for at in turnings)
    return "".join(readings), work(T0 - HOUR, "built") + log


def evenly(number, days_apart, first=36):
    return [first + place * 24 * days_apart for place in range(number)]


WINDROW, SCATTERED = "us-503-pfrp-windrow", "us-112-54-turned"


@pytest.mark.parametrize(
    ("rule", "turnings", "days", "recovery_h", "hot", "hold"),
    [
        *((rule, evenly(5, 3), 16, 11.5, 62, 55) for rule in (WINDROW, SCATTERED)),
        *((rule, evenly(7, 2), 16, 11.5, 62, 55) for rule in (WINDROW, SCATTERED)),
        *((rule, evenly(12, 2), 25, 11.5, 62, 55) for rule in (WINDROW, SCATTERED)),
        # Each evening, and hot again for 18 h of each day.
        *((rule, evenly(15, 1), 16, 5.8, 62, 55) for rule in (WINDROW, SCATTERED)),
        # 18 h each time, over two days each.
        *((rule, evenly(5, 3, first=39), 20, 17.5, 62, 55) for rule in (WINDROW, SCATTERED)),
        ("uk-wales-abp-windrow", evenly(3, 2.5), 10, 11.5, 66, 60),
        ("uk-pas-100", evenly(2, 3), 9, 11.5, 70, 65),
        ("eu-2019-1009-cmc3", evenly(2, 1), 5, 8, 74, 70),
        ("de-bioabfv", evenly(2, 1), 5, 8, 68, 65),
        ("us-503-pfrp-static", [24], 6, 11.5, 62, 55),
    ],
)
def test_a_heap_that_is_hot_again_after_each_turning_meets_its_rule(
    case_of, rule, turnings, days, recovery_h, hot, hold
):
    case, _ = case_of(*heap(turnings, days, recovery_h, hot, hold), rule=rule)
    assert judge_case(case).met


@pytest.mark.parametrize("rule", [WINDROW, SCATTERED])
@pytest.mark.parametrize("recovery_h", [8, 11.5])
def test_a_heap_that_is_on_its_way_back_for_a_third_of_the_time_does_not(case_of, rule, recovery_h):
    case, _ = case_of(*heap(evenly(24, 1), 25, recovery_h), rule=rule)
    judgement = judge_case(case)
    assert not judgement.met
    text = " ".join(verdict_lines(case, judgement))
    assert "with it more than a quarter of the days asked for would be recovery after turnings" in text
    assert "(0 s" not in text


def test_days_without_turnings_make_up_for_many_turnings(case_of):
    early, _ = case_of(*heap(evenly(12, 1), 16, 9), rule=SCATTERED)
    assert not judge_case(early).met
    later, _ = case_of(*heap(evenly(12, 1), 20, 9), rule=SCATTERED)
    assert judge_case(later).met
