"""A message that is told again speaks of the probe that still speaks, not of the one that rang and fell silent."""

import re

import pytest
from engine_yard import HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.model.settings import Bin
from monitor.model.thresholds import PileThresholds
from monitor.model.units import Quantity

LIMIT, DEADBAND = PileThresholds().too_hot_milli_c, PileThresholds().deadband_milli_k
EDGE_C = (LIMIT - DEADBAND) / 1_000


def small_yard():
    return yard(
        bins={"b1": Bin(name="Sunny bin")},
        probes={**{name: core("p1") for name in ("p1-a", "p1-b", "p1-c")}, "b1-t": bedding("b1"),
                "b1-u": bedding("b1"), "b1-m": bedding("b1", Quantity.MOISTURE), "b1-v": bedding("b1")},
    )  # fmt: skip


CALM = {"p1_a": 60, "p1_b": 60, "p1_c": 60, "b1_t": 20, "b1_u": 20, "b1_v": 20, "b1_m": 75}


def told(words, silent=(), **celsius):
    """What is told of `words` four to seven hours after it rang; `silent` probes stop three hours after it did."""
    drive = Drive(small_yard())
    values = CALM | celsius
    drive.hold(T0, T0 + 3 * HOUR, **values)
    rest = {name: one for name, one in values.items() if name not in silent}
    drive.hold(T0 + 3 * HOUR + 10 * MIN, T0 + 7 * HOUR, **rest)
    return [one.draft.text for one in drive.notices(words) if one.at > T0 + 4 * HOUR - 1]


@pytest.mark.parametrize(
    ("b", "c", "said"),
    [
        (77.2, 77.5, r"too hot, 77.5 °C since .*\(p1-c\)\. "),
        (77.5, 77.2, r"too hot, 77.5 °C since .*\(p1-b\)\. "),
        (76.2, 70, r"too hot, 76.2 °C \(back under 76.7 °C\) since .*\(p1-b\)\. "),
        (EDGE_C + 0.001, 70, rf"too hot, {EDGE_C:.1f} °C \(back under 76.7 °C\) since .*\(p1-b\)\. "),
        (EDGE_C - 0.001, 70, r"Bay 1: too hot, 77.9 °C since .*: p1-a is silent\..*\(Not known to be over after 6 h; "),
    ],
)
def test_of_a_heap_the_hottest_that_speaks_is_told_where_it_holds_the_alarm_open(b, c, said):
    assert re.search(said, told("too hot", {"p1_a"}, p1_a=77.9, p1_b=b, p1_c=c)[0])


def test_while_the_probe_that_rang_speaks_it_is_told():
    (first, *_) = told("too hot", p1_a=77.9, p1_b=77.2)
    assert first.startswith("Bay 1: too hot, 77.9 °C since ")
    assert "(p1-a)" in first
    assert first.endswith("(Still on after 6 h; nobody on it yet.)")


def test_of_a_heap_it_is_said_whether_one_probe_is_silent_or_all():
    (one, *_) = told("too hot", {"p1_a"}, p1_a=77.9)
    assert "as last heard yesterday 22:00: p1-a is silent." in one
    *_, last = told("too hot", {"p1_a", "p1_b", "p1_c"}, p1_a=77.9, p1_b=77)
    assert "as last heard yesterday 22:00: its probes are silent (p1-a)." in last


@pytest.mark.parametrize(
    ("u", "v", "said"),
    [(30.4, 20, r"30 °C since .*\(b1-u\)\. "), (30.4, 31, r"31 °C since .*\(b1-v\)\. ")],
)
def test_of_a_bin_one_that_speaks_and_stands_beyond_the_limit_is_told(u, v, said):
    texts = told("Sunny bin: overheating", {"b1_t"}, b1_t=32, b1_u=u, b1_v=v)
    assert re.search(said, texts[0])


def test_of_a_bin_where_no_other_stands_beyond_the_limit_the_last_word_is_told_as_such():
    (first, *_) = told("Sunny bin: overheating", {"b1_t"}, b1_t=32)
    assert "Not known to be over" in first
    assert first.startswith("Sunny bin: overheating, 32 °C since ")
    assert ": b1-t is silent. " in first


@pytest.mark.parametrize("days", [1, 133])
def test_a_number_that_nobody_has_heard_for_long_is_never_told_as_of_now(days):
    """The daemon did not run meanwhile, so nothing has found the probes silent yet."""
    drive = Drive(small_yard())
    drive.hold(T0, T0 + 3 * HOUR, **(CALM | {"p1_a": 77.9, "b1_t": 31}))
    at = drive.engine.last + days * 24 * HOUR
    said = drive.engine.before_you_go(at)
    assert "Bay 1: too hot, 77.9 °C since" in said
    assert "Sunny bin: overheating, 31 °C since" in said
    for line in said.splitlines():
        if line.startswith(("- Bay 1: too hot", "- Sunny bin: overheating")):
            assert "its probes are silent" in line
            assert "steady" not in line


def test_a_turning_is_asked_for_by_the_last_number_with_its_time():
    drive = Drive(yard(bins={}, probes={"p1-a": core("p1")}))
    drive.work(T0, "p1", "built")
    drive.hold(T0 + MIN, T0 + 4 * 24 * HOUR, HOUR, p1_a=60)
    assert "60 °C now" in drive.engine.words("p1/turning-due", drive.engine.last).short
    late = drive.engine.words("p1/turning-due", drive.engine.last + 133 * 24 * HOUR).short
    assert "60 °C now" not in late
    assert "silent since" in late
