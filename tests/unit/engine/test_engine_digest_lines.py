"""What begins a line of the digest, and how a bin's conditions are said: by which reading, since when and why."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.model.settings import Bin
from monitor.model.thresholds import ProbeThresholds
from monitor.model.units import Quantity

CALM = ProbeThresholds(spike_step_milli_k=200_000)


def bin_of(probes=None):
    known = {"b1-t": bedding("b1")} if probes is None else probes
    return Drive(yard(piles={}, bins={"b1": Bin(name="Bin")}, probes=known, probe_thresholds=CALM))


def heap_of():
    probes = {"p1-m": bedding("p1", Quantity.MOISTURE), "p1-o": bedding("p1", Quantity.OXYGEN), "p1-a": core("p1")}
    return Drive(yard(bins={}, probes=probes, probe_thresholds=CALM))


def said(drive):
    return [
        (e.draft.before, e.draft.after, e.draft.why, e.draft.reason, e.draft.since)
        for e in drive.effects
        if e.draft.kind.value == "condition"
    ]


def texts(drive):
    lines = (line.text.split(" since ")[0] for line in drive.engine.state.desk.lines)
    return [one for one in lines if "no word" not in one and "silent" not in one]


def digests(drive, words):
    return [e.at for e in drive.effects if e.draft.axis == "digest" and words in e.draft.text]


# Conditions of a bin ----------------------------------------------------------------------------------------------------


def test_each_condition_is_said_with_its_probe_and_its_beginning_and_some_begin_a_line():
    drive = bin_of()
    for number, celsius in enumerate((20, 12, 6, 12, 20, 27, 33, 27, 20)):
        drive.hold(T0 + number * 2 * HOUR, T0 + number * 2 * HOUR + 110 * MIN, b1_t=celsius)
    at = [T0 + number * 2 * HOUR for number in range(9)]
    assert said(drive) == [
        (None, "comfort", "Bin is in comfort (probe b1-t).", "reading", at[0]),
        ("comfort", "cool", "Bin is cool (probe b1-t).", "reading", at[1]),
        ("cool", "cold", "Bin is cold (probe b1-t).", "reading", at[2]),
        ("cold", "cool", "Bin is cool (probe b1-t).", "reading", at[3]),
        ("cool", "comfort", "Bin is in comfort (probe b1-t).", "reading", at[4]),
        ("comfort", "warm", "Bin is warm (probe b1-t).", "reading", at[5]),
        ("warm", "overheating", "Bin is overheating (probe b1-t).", "reading", at[6]),
        ("overheating", "warm", "Bin is warm (probe b1-t).", "reading", at[7]),
        ("warm", "comfort", "Bin is in comfort (probe b1-t).", "reading", at[8]),
    ]
    lines = [one for one in texts(drive) + [e.draft.text for e in drive.notices("Digest")] if "cool" in one]
    assert any("cool, 12 °C (b1-t); feed half as much" in one for one in lines)
    warm = [one for one in texts(drive) if "warm" in one]
    assert len(warm) == 1, "a bin that cools from overheating to warm is nobody's news"


def test_a_bin_that_nobody_hears_is_said_to_be_unknown_and_why():
    drive = bin_of()
    drive.hold(T0, T0 + HOUR, b1_t=20)
    drive.advance(T0 + 3 * HOUR)
    assert said(drive)[-1] == (
        "comfort",
        "unknown",
        "Bin: temperature not known, its probes are silent.",
        "silent",
        T0 + 2 * HOUR,
    )
    drive.read(T0 + 3 * HOUR + MIN, b1_t=20)
    drive.work(T0 + 3 * HOUR + 2 * MIN, "b1", "probe out", probe="b1-t")
    assert said(drive)[-1][2:4] == ("Bin: temperature not known, its probes lie outside.", "outside")
    drive.work(T0 + 3 * HOUR + 3 * MIN, "b1", "probe in", probe="b1-t")
    drive.read(T0 + 3 * HOUR + 4 * MIN, b1_t=20)
    drive.read(T0 + 5 * HOUR, b1_t=20)
    drive.work(T0 + 5 * HOUR + MIN, "b1", "emptied")
    assert said(drive)[-1][2:4] == ("Bin: temperature not known, it is empty.", "emptied")


def test_a_moisture_that_is_not_known_is_named_as_that():
    drive = bin_of({"b1-m": bedding("b1", Quantity.MOISTURE)})
    drive.hold(T0, T0 + HOUR, b1_m=75)
    drive.advance(T0 + 3 * HOUR)
    assert said(drive)[-1][2] == "Bin: moisture not known, its probes are silent."


def test_what_was_read_by_hand_is_said_so_and_that_nobody_has_read_it_for_too_long():
    drive = bin_of({})
    drive.feed(T0, "readings", {"rows": [[T0, "hand:b1", 12_000_000, "Cel"]], "ahead": [], "by": "Ann"})
    assert said(drive)[-1][:3] == (None, "cool", "Bin is cool (read by hand).")
    gap = drive.settings.bins["b1"].thresholds.hand_gap_ms
    drive.advance(T0 + gap)
    assert said(drive)[-1][1:4] == ("unknown", "Bin: temperature not known, nobody has read it for too long.", "silent")


# Lines of a heap's moisture and oxygen ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("percent", "line"),
    [(40, ""), (39.999, "dry"), (65, ""), (65.001, "wet"), (50, "")],
)
def test_a_heap_that_is_too_dry_or_too_wet_begins_one_line(percent, line):
    drive = heap_of()
    drive.read(T0, p1_m=50)
    drive.hold(T0 + MIN, T0 + HOUR, p1_m=percent)
    assert [one for one in texts(drive) if line and line in one] == texts(drive)
    assert len(texts(drive)) == bool(line)


def test_a_heap_that_was_right_in_between_begins_a_line_again():
    drive = heap_of()
    for number, percent in enumerate((30, 50, 30, 29, 70)):
        drive.read(T0 + number * 10 * MIN, p1_m=percent)
    assert ["dry" in one for one in texts(drive)] == [True, True, False]


def test_oxygen_must_be_low_for_six_hours():
    drive = heap_of()
    drive.hold(T0, T0 + 5 * HOUR + 50 * MIN, p1_o=4.9)
    drive.advance(T0 + 6 * HOUR + MIN)
    assert texts(drive) == [], "a line waits for a reading"
    drive.read(T0 + 6 * HOUR + 2 * MIN, p1_o=4.9)
    (line,) = texts(drive)
    assert "4.9 %" in line
    assert line == "Bay 1: oxygen low, 4.9 %"
    drive.hold(T0 + 6 * HOUR + 10 * MIN, T0 + 9 * HOUR, p1_o=4.9)
    assert len(texts(drive)) == 1


@pytest.mark.parametrize(("age", "line"), [(DAY - 1, 1), (DAY, 0)])
def test_what_is_a_day_old_when_it_comes_is_no_news(age, line):
    drive = heap_of()
    drive.read(T0, received=T0 + age, p1_m=30)
    assert len(texts(drive)) == line


def test_a_probe_that_is_carried_away_takes_its_lines_along():
    drive = heap_of()
    drive.read(T0, p1_m=30)
    drive.work(T0 + MIN, "p1", "probe out", probe="p1-m")
    drive.work(T0 + 2 * MIN, "p1", "probe in", probe="p1-m")
    drive.read(T0 + 2 * HOUR, p1_m=30)
    assert len(texts(drive)) == 2, "it begins anew"


# Lines that the digest adds when it goes out ----------------------------------------------------------------------------


def test_a_bin_that_nobody_has_read_for_too_long_stands_in_each_digest_until_it_is_read():
    drive = bin_of({})
    gap = drive.settings.bins["b1"].thresholds.hand_gap_ms

    def read(at):
        drive.feed(at, "readings", {"rows": [[at, "hand:b1", 20_000_000, "Cel"]], "ahead": [], "by": "Ann"})

    read(T0)
    drive.advance(T0 + gap + 3 * DAY)
    days = [at - T0 for at in digests(drive, "nobody has read it since 1 Nov 19:00")]
    assert [day // DAY for day in days] == [gap // DAY + n for n in range(3)]
    read(T0 + gap + 3 * DAY + MIN)
    drive.advance(T0 + gap + 5 * DAY)
    assert len(digests(drive, "nobody has read it")) == 3


def test_a_bin_with_a_probe_or_an_empty_one_asks_for_no_reading_by_hand():
    for probes, emptied in (({"b1-t": bedding("b1")}, False), ({}, True)):
        drive = bin_of(probes)
        drive.feed(T0, "readings", {"rows": [[T0, "hand:b1", 20_000_000, "Cel"]], "ahead": [], "by": "Ann"})
        if emptied:
            drive.work(T0 + MIN, "b1", "emptied")
        gap = drive.settings.bins["b1"].thresholds.hand_gap_ms
        for at in range(T0 + HOUR, T0 + gap + 3 * DAY, HOUR // 2):
            drive.read(at, **({} if not probes else {"b1_t": 20 + at % 7 / 10}))
        assert digests(drive, "nobody has read it") == []
