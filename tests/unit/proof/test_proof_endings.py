"""What ended the best hold: which probe, how, and for how long."""

import numpy as np
import pytest

from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.proof.holdset import HoldBasis, HoldSet, ProbeSets
from monitor.proof.rules import Alternative, Days, Limits, Rule, Run, Status, load_rule
from monitor.proof.temperature import Series
from monitor.proof.verdict import Question, evaluate, prove

M, H = MINUTE_MS, HOUR_MS


def series(probe, *pairs, service=None):
    """Readings at (minutes, degrees)."""
    times = np.array([round(at * M) for at, _ in pairs], dtype=np.int64)
    values = np.array([round(degrees * 1000) for _, degrees in pairs], dtype=np.int64)
    if service is None:
        return Series(probe=probe, times=times, milli_c=values)
    return Series(probe=probe, times=times, milli_c=values, service=tuple((a * M, b * M) for a, b in service))


def level(probe, degrees, hours, service=None, start=0):
    return series(probe, *((at, degrees) for at in range(start, hours * 60 + 1, 10)), service=service)


def reason(*probes, rule="us-112-54-static", **options):
    finding = prove(Question(rule=load_rule(rule), max_gap_ms=2 * H, **options), probes)
    return finding.reasons[0]


def dip(probe="b", degrees=54, back=4):
    """61 h 20 min at 60, then below 55 within a minute, back after `back` minutes; 5 h more."""
    first = 61 * 60 + 20
    hot = [(at, 60) for at in range(0, first, 10)]
    low = [(first, 55), (first + 1, degrees), (first + back - 1, degrees), (first + back, 55)]
    return series(probe, *hot, *low, *((at, 60) for at in range(first + 10, first + 300, 10)))


def test_a_dip_of_one_of_two_probes():
    assert reason(level("a", 60, 66), dip()) == (
        "needs 72 h unbroken at 131 °F (55 °C) or above; longest proven run 61 h 20 min, from 1970-01-01T00:00:00.000Z "
        "to 1970-01-03T13:20:00.000Z, ended when probe b fell below 131 °F for 4 min"
    )


def test_one_that_did_not_come_back():
    cold = series("a", *((at, 60) for at in range(0, 601, 10)), (700, 20), (800, 20))
    assert reason(cold).endswith("ended when probe a fell below 131 °F and did not come back")


def test_a_rise_above_the_upper_limit():
    hot = series("a", *((at, 60) for at in range(0, 601, 10)), (610, 80), (640, 80), (650, 60), (700, 60))
    text = reason(hot, rule="us-205-203-static")
    assert "ended when probe a rose above 170 °F for 3" in text
    assert "at most 170 °F (76.7 °C)" in text
    assert "fell below 131 °F" in reason(dip(), rule="us-205-203-static")


def test_a_gap():
    first = [(at, 60) for at in range(0, 3001, 10)]
    later = [(at, 60) for at in range(3180, 3300, 10)]
    text = reason(series("a", *first, *later), level("b", 60, 55))
    assert text.endswith("ended when the readings of probe a stopped for 3 h")  # 55 h in all are too few for a doubt
    assert reason(series("a", *first), level("b", 60, 80)).endswith(
        "ended when the readings of probe a stopped and did not come back; "
        "would be met if the unproven time (30 h in all) satisfied it"
    )


def test_the_last_probe_taken_out():
    out = level("a", 60, 50, service=[(0, 1200), (1260, 3000)])
    assert "ended when the last probe was taken out for 1 h" in reason(
        level("a", 60, 50, service=[(0, 2000), (2060, 3000)])
    )
    assert "1260" not in reason(out)


def test_a_probe_put_in_that_says_nothing_yet():
    late = level("b", 60, 60, service=[(2400, 3600)], start=2460)
    assert "ended when probe b was put in and its first reading came 1 h later" in reason(level("a", 60, 60), late)


def test_the_mean_of_the_probes():
    other = series("c", *((at, 54) for at in range(0, 3001, 10)), (3010, 10), (3600, 10))
    text = reason(level("a", 60, 60), other, basis=HoldBasis.MEAN)
    assert "ended when the mean of the probes fell below 131 °F and did not come back" in text


def test_each_probe_by_itself():
    text = reason(level("a", 60, 70), dip(), basis=HoldBasis.EACH)
    assert "ended when probe b fell below 131 °F for 4 min" in text


def test_material_that_came_in():
    text = reason(level("a", 60, 100), restarts=[0, 60 * H])
    assert text.endswith(
        "longest proven run 40 h, from 1970-01-03T12:00:00.000Z to 1970-01-05T04:00:00.000Z; "
        "the hold of 60 h before that ended when material was added"
    )


def test_a_hold_that_is_still_going_on_did_not_end():
    assert reason(level("a", 60, 60)).endswith("to 1970-01-03T12:00:00.000Z")


def test_strict_limits_and_very_short_dips():
    dipped = series("a", *((at, 60) for at in range(0, 601, 10)), (610, 55), (620, 60), (700, 60))
    text = reason(dipped, rule="au-food-safety-vessel")
    assert "ended when probe a fell to or below 55 °C for less than a second" in text


def test_what_came_of_each_part_is_told():
    finding = prove(Question(rule=load_rule("us-112-54-turned"), max_gap_ms=2 * H), [level("a", 60, 60)])
    assert [(one.kind, one.needs, one.outcome.value, one.met_at) for one in finding.parts] == [
        ("Days", "needs 15 days at 131 °F (55 °C) or above", "not met", None)
    ]
    assert finding.parts[0].reason == finding.reasons[0]
    assert "ended when" not in finding.reasons[0]


TEN = [(at, 60) for at in range(0, 601, 10)]
"""Ten hours at 60 degC."""


def bare(*parts, **limits):
    way = Alternative(limits=Limits(low_milli_c=55_000, **limits), parts=parts or (Run(duration_ms=72 * H),))
    return Rule(
        id="test", title="", jurisdiction="", section="", methods=(), feedstock="", wording="", source="",
        status=Status.SEEN, alternatives=(way,),
    )  # fmt: skip


def then(probe, *pairs, service=None):
    return series(probe, *TEN, *pairs, service=service)


SOON = [(601, 40), (640, 40), (650, 60), (700, 60)]
"""Below 55 degC 15 s after the ten hours, back in 50 min less 2 min 30 s."""

ENDINGS = [
    # Who ended it: at most two are named, those that went on are not.
    ("a", [then("a", *SOON), level("b", 60, 14)], "probe a fell below 55 °C for 47 min"),
    ("two", [then("a", *SOON), then("b", (601, 40), (800, 40)), then("c", *SOON), level("d", 60, 14)],
     "probe a fell below 55 °C for 47 min and probe b fell below 55 °C and did not come back"),
    ("gap", [then("a"), then("b", (720, 60), (721, 60)), level("c", 60, 13)],
     "the readings of probe a stopped and did not come back"),
    ("later", [level("a", 60, 13), then("b", (725, 60), (726, 60))], "the readings of probe b stopped for 2 h 5 min"),
    ("below", [then("a"), series("b", *((at, 40) for at in range(0, 1000, 10)))], ""),
    # Taken out: by itself, with the last of them, and back again.
    ("out", [level("a", 60, 14, service=[(0, 600), (660, 840)]), level("b", 60, 14)],
     "probe a was taken out for 1 h 10 min"),
    ("all out", [level(one, 60, 14, service=[(0, 600), (back, 840)]) for one, back in (("a", 700), ("b", 720))],
     "the last probe was taken out for 1 h 50 min"),
    ("out for good", [level("a", 60, 10, service=[(0, 605)]), level("b", 60, 10, service=[(0, 605)])],
     "the last probe was taken out and did not come back"),
    ("put in", [level("a", 60, 14), level("b", 60, 14, service=[(600, 900)], start=630)],
     "probe b was put in and its first reading came 30 min later"),
    ("put in unread", [level("a", 60, 14), level("b", 60, 0, service=[(600, 900)], start=630)],
     "probe b was put in and never read"),
    ("put in cold", [level("a", 60, 14), level("b", 40, 14, service=[(600, 900)], start=600)],
     "probe b was not within the limits and did not come back"),
]  # fmt: skip


@pytest.mark.parametrize(("probes", "words"), [one[1:] for one in ENDINGS], ids=[one[0] for one in ENDINGS])
def test_what_ended_the_longest_hold(probes, words):
    finding = prove(Question(rule=bare(), max_gap_ms=2 * H, end=16 * H), probes)
    assert finding.reasons[0].partition("ended when ")[2].partition(";")[0] == words


MEANS = [
    ("fell", [then("a", (602, 0), (630, 0), (650, 60), (700, 60)), level("b", 58, 14)],
     "the mean of the probes fell below 55 °C for 47 min"),
    # What is not known ended it, not the probe that was cold all the time.
    ("gap", [then("a"), level("b", 40, 14), level("c", 80, 14)],
     "the readings of probe a stopped and did not come back"),
]  # fmt: skip


@pytest.mark.parametrize(("probes", "words"), [one[1:] for one in MEANS], ids=[one[0] for one in MEANS])
def test_what_ended_the_longest_hold_of_the_mean(probes, words):
    finding = prove(Question(rule=bare(), max_gap_ms=2 * H, basis=HoldBasis.MEAN), probes)
    assert finding.reasons[0].partition("ended when ")[2] == words


@pytest.mark.parametrize(
    ("after", "guard", "words"),
    [
        ([(601, 75), (640, 75)], 0, "rose above 70 °C"),
        ([(601, 45), (640, 75)], 0, "fell below 55 °C"),
        # With a guard band of half a degree the limit is passed at 69.5 degC already.
        ([(601, 69.9), (640, 60)], 500, "rose above 70 °C"),
        ([(601, 69.9), (640, 75)], 0, "rose above 70 °C"),
        ([(601, 55.1), (640, 60)], 500, "fell below 55 °C"),
    ],
)
def test_which_of_two_limits_ended_the_hold(after, guard, words):
    finding = prove(
        Question(rule=bare(high_milli_c=70_000), max_gap_ms=2 * H, guard_milli_k=guard),
        [then("a", *after, (650, 60), (700, 60))],
    )
    assert f"ended when probe a {words} for" in finding.reasons[0]


def on_sets(limits, *probes, basis=HoldBasis.COLDEST, proven=((0, 9 * H),), hold=((0, 4 * H),)):
    sets = HoldSet(basis=basis, proven=proven, hold=hold, probes=probes)
    return evaluate(Question(rule=bare(**limits), max_gap_ms=H, start=0, end=9 * H), [sets]).reasons[0]


def test_without_the_readings_themselves_less_is_said():
    cold = ProbeSets(probe="a", proven=((0, 9 * H),), hold=((0, 4 * H), (5 * H, 9 * H)))
    silent = ProbeSets(probe="b", proven=((0, 4 * H), (6 * H, 9 * H)), hold=((0, 4 * H),))
    both = {"high_milli_c": 70_000}
    assert on_sets({}, cold).endswith("ended when probe a fell below 55 °C for 1 h")
    assert on_sets(both, cold).endswith("ended when probe a left the limits 55 °C to 70 °C for 1 h")
    assert on_sets({}, silent).endswith("ended when the readings of probe b stopped for 2 h")
    assert "ended" not in on_sets({})
    of_mean = {"basis": HoldBasis.MEAN, "hold": ((0, 4 * H), (7 * H, 8 * H))}
    assert on_sets(both, cold, **of_mean).endswith(
        "ended when the mean of the probes left the limits 55 °C to 70 °C for 3 h"
    )
    assert on_sets({"low_text": "131 °F", "high_text": "158 °F", **both}, cold).endswith("131 °F to 158 °F for 1 h")


COOL = [(1441, 50), (1500, 50), (1501, 60)]
"""An hour below 55 degC on the second day, from 24 h 30 s on."""


def day_whys(*probes, turnings=(), count=9, **options):
    part = Days(count=count)
    finding = prove(Question(rule=bare(part), **{"max_gap_ms": 2 * H, "turnings": turnings, **options}), probes)
    return [day.why for day in finding.days]


def hot_days(probe, *after, days=4):
    first = [(at, 60) for at in range(0, 1441, 60)]
    last = after[-1][0] if after else 1440
    return series(probe, *first, *after, *((at, 60) for at in range(last + 60, days * 1440 + 1, 60)))


def test_a_day_that_failed_says_who_was_cold_and_for_how_long():
    said = "not within the limits from 1970-01-02T00:00:30.000Z on{} (1 h, the last of it at 1970-01-02T01:00:30.000Z)"
    cool, warm = hot_days("a", *COOL), hot_days("b")
    assert day_whys(cool)[:2] == ["", said.format("")]
    assert day_whys(warm, cool)[1] == said.format(" at a")
    assert day_whys(cool, hot_days("c", *COOL), warm)[1] == said.format(" at a and c")
    assert day_whys(hot_days("a", *COOL), hot_days("b", *COOL), basis=HoldBasis.MEAN)[1] == said.format("")


def test_a_day_that_failed_by_a_single_reading_says_so():
    why = day_whys(hot_days("a", (1470, 54.999), (1500, 60)))[1]
    assert why == "not within the limits from 1970-01-02T00:29:59.640Z on (a single reading)"


def test_a_day_of_much_recovery_says_how_much():
    # Turned each noon and cold for 11 h: a quarter of nine days, 54 h, may be recovery; the fifth such day is too much.
    pairs, turnings = [], []
    for day in range(9):
        at = day * 1440
        pairs += [(at + 1, 60), (at + 720, 60), (at + 721, 40), (at + 1380, 40), (at + 1381, 60)]
        turnings.append((at + 720) * M)
    whys = day_whys(series("a", (0, 60), *pairs, (9 * 1440, 60)), turnings=turnings, max_gap_ms=24 * H)
    said = "with it more than a quarter of the days asked for would be recovery after turnings (11 h of this one)"
    assert whys == [""] * 4 + [said] * 5 + [""]
