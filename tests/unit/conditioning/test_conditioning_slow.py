"""Flat line and *follows ambient*: what needs a day, and the other probes."""

import math

import pytest

from monitor.conditioning import RUN_IN_MS, Company, Conditioner, ConditioningState, ProbeRecord, condition
from monitor.conditioning.record import note
from monitor.model.flags import Flag, FlagReason
from monitor.model.readings import Reading
from monitor.model.settings import Pile, Probe, Settings
from monitor.model.thresholds import ProbeThresholds
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.words import Role

START = 1_772_355_600_000
STEP = 10 * MINUTE_MS


def yard(resolution=62_500, **more):
    probes = {
        "a": Probe(place="p1", role=Role.CORE, address="a", resolution_micro=resolution),
        "b": Probe(place="p1", role=Role.CORE, address="b"),
        "air": Probe(place="ambient", role=Role.AMBIENT, address="air"),
        **more,
    }
    return Settings(piles={"p1": Pile(name="Bay 1"), "p2": Pile(name="Bay 2")}, probes=probes)


def air(day_c=10.0, swing_c=8.0):
    return lambda time: day_c + swing_c / 2 * math.sin((time - START) / DAY_MS * 2 * math.pi)


def fixed(value):
    return lambda time: value


def record(days, step=STEP, leave_out=(), **curves):
    """Readings of named probes, each a function of time, at a regular spacing; leave_out: (probe, from h, to h)."""

    def is_missing(probe, time):
        return any(probe == p and a <= (time - START) / HOUR_MS < b for p, a, b in leave_out)

    return [
        Reading(time, probe, round(curves[probe](time) * 16) * 62_500, "Cel")
        for time in range(START, START + round(days * DAY_MS) + 1, step)
        for probe in sorted(curves)
        if not is_missing(probe, time)
    ]


def flagged(rows, settings, probe="a"):
    """(hours after START, flag, reason) at which the flag of a probe changes."""
    changes, last = [], None
    for verdict in condition(rows, {probe}, settings):
        if verdict.flag != last:
            changes.append(((verdict.time - START) / HOUR_MS, int(verdict.flag), verdict.reason))
            last = verdict.flag
    return changes


FLAT = [(0, 1, FlagReason.NONE), (24, 3, FlagReason.FLAT_LINE), (48, 4, FlagReason.FLAT_LINE)]


def test_flat_line_is_suspect_after_a_day_and_fails_after_two():
    assert flagged(record(3, a=fixed(57.25), air=air()), yard()) == FLAT


def test_another_probe_of_the_place_is_witness_enough():
    assert flagged(record(3, a=fixed(57.25), b=air(57, 2)), yard()) == FLAT


@pytest.mark.parametrize("spacing_min", [1, 7, 60, 120])
def test_seconds_count_not_samples(spacing_min):
    changes = flagged(record(3, step=spacing_min * MINUTE_MS, a=fixed(57.25), air=air()), yard())
    assert [flag for _, flag, _ in changes] == [1, 3, 4]
    assert 24 <= changes[1][0] < 24 + spacing_min / 60
    assert 48 <= changes[2][0] < 48 + spacing_min / 60


def test_nobody_moved_so_it_is_a_line_in_the_digest():
    live = Conditioner(ConditioningState(), yard())
    verdicts = [v for r in record(3, a=fixed(57.25), air=air(10, 0.5), b=fixed(50)) for v in live.step(r)]
    assert {v.flag for v in verdicts} == {Flag.PASS}
    assert [(s.probe, s.since) for s in live.still()] == [("a", START), ("b", START)]


def test_flagged_or_coarse_probes_are_no_line_in_the_digest():
    live = Conditioner(ConditioningState(), yard(resolution=500_000))
    for reading in record(3, a=fixed(57.25), air=air(), b=air(50, 4)):
        live.step(reading)
    assert live.still() == []
    stuck = Conditioner(ConditioningState(), yard())
    for reading in record(3, a=fixed(57.25), air=air()):
        stuck.step(reading)
    assert stuck.still() == []


def test_a_probe_of_another_place_is_no_witness():
    elsewhere = yard(c=Probe(place="p2", role=Role.CORE, address="c"))
    assert flagged(record(3, a=fixed(57.25), c=air(57, 6)), elsewhere) == [(0, 1, FlagReason.NONE)]
    live = Conditioner(ConditioningState(), elsewhere)
    live.move("c", "p1")
    flags = [v.flag for r in record(3, a=fixed(57.25), c=air(57, 6)) for v in live.step(r) if v.probe == "a"]
    assert flags[-1] == Flag.FAIL


def test_coarse_resolution_is_never_flat():
    assert flagged(record(3, a=fixed(57.0), air=air()), yard(resolution=500_000)) == [(0, 1, FlagReason.NONE)]
    assert flagged(record(3, a=fixed(57.0), air=air()), yard(resolution=125_000)) == FLAT


def test_resolution_is_the_smallest_step_seen_where_none_is_configured():
    def stepped(size):
        return lambda time: 57 + (size if (time - START) / STEP in (1, 3) else 0)

    fine = flagged(record(3, a=stepped(0.125), air=air()), yard(resolution=None))
    assert [flag for _, flag, _ in fine] == [1, 3, 4]
    assert flagged(record(3, a=stepped(0.25), air=air()), yard(resolution=None)) == [(0, 1, FlagReason.NONE)]
    assert flagged(record(3, a=fixed(57), air=air()), yard(resolution=None)) == [(0, 1, FlagReason.NONE)]


def test_a_gap_never_fails_a_reading():
    rows = record(3, a=fixed(57.25), air=air(), leave_out=[("a", 1, 71)])
    assert flagged(rows, yard()) == [(0, 1, FlagReason.NONE)]
    # after a gap the day is counted anew
    rows = record(4, a=fixed(57.25), air=air(), leave_out=[("a", 20, 23)])
    assert flagged(rows, yard())[1][0] == 47


def test_the_smallest_change_ends_a_flat_line():
    def once(time):
        return 57.25 + (0.0625 if time == START + 30 * HOUR_MS else 0)

    changes = flagged(record(2, a=once, air=air()), yard())
    assert [(hours, flag) for hours, flag, _ in changes] == [(0, 1), (24, 3), (30, 1)]


def test_follows_ambient_needs_all_three():
    every = record(2, a=air(), b=fixed(57), air=air())
    changes = flagged(every, yard())
    assert [flag for _, flag, _ in changes] == [1, 3]
    assert changes[1][2] == FlagReason.FOLLOWS_AMBIENT
    assert 19 <= changes[1][0] <= 26
    calm = [(0, 1, FlagReason.NONE)]
    assert flagged(record(2, a=air(10, 8 * 0.6), b=fixed(57), air=air()), yard()) == calm  # swings too little
    assert flagged(record(2, a=air(13), b=fixed(57), air=air()), yard()) == calm  # lies 3 °C above
    assert flagged(record(2, a=air(), b=fixed(19), air=air()), yard()) == calm  # no warm core probe
    assert flagged(record(2, a=air(), air=air()), yard()) == calm  # no other core probe
    assert flagged(record(2, a=air(), b=fixed(57)), yard()) == calm  # no ambient


def test_a_surface_probe_may_follow_ambient():
    surface = yard(a=Probe(place="p1", role=Role.SURFACE, address="a"))
    assert flagged(record(2, a=air(), b=fixed(57), air=air()), surface) == [(0, 1, FlagReason.NONE)]


def test_suspicion_does_not_end_by_itself():
    """Suspect readings stay evidence against their probe, else it would be believed again a day later."""
    changes = flagged(record(6, a=air(), b=fixed(57), air=air()), yard())
    assert [flag for _, flag, _ in changes] == [1, 3]


def test_failed_readings_are_no_evidence():
    rows = record(3, a=fixed(57.25), air=fixed(10))
    wild = [
        Reading(r.time, r.probe, 150_000_000, "Cel") if r.probe == "air" and i % 50 == 0 else r
        for i, r in enumerate(rows)
    ]
    assert flagged(wild, yard()) == [(0, 1, FlagReason.NONE)]


def test_what_comes_late_for_others_is_told():
    settings = yard()
    live = Conditioner(ConditioningState(), settings)
    rows = record(2, a=air(), b=fixed(57), air=air(), leave_out=[("b", 40, 48)])
    for reading in rows:
        assert not live.late_for_others(reading.probe, reading.time)
        live.step(reading)
    assert live.late_for_others("b", START + 41 * HOUR_MS)
    assert live.late_for_others("air", START + 41 * HOUR_MS)
    assert not live.late_for_others("b", START + 47 * HOUR_MS)
    assert not live.late_for_others("hand:p1", START)


def test_hours_looked_at_ended_an_hour_before_the_hour_of_the_reading():
    record, witness = ProbeRecord(), ProbeRecord()
    company = Company(ProbeThresholds(), ambients=[witness])
    hour = START // HOUR_MS
    note(witness, START, 10_000)
    note(witness, START + HOUR_MS, 11_000)
    assert not company.moved(START, hour + 2)  # the second hour ended when the reading's began
    assert company.moved(START, hour + 3)
    assert company.consulted == hour + 2
    assert not company.moved(START + 1, hour + 3)  # only whole hours since it began to stand still
    assert not company.follows(record, hour + 3)


def test_calm_air_cannot_be_followed():
    calm = [(0, 1, FlagReason.NONE)]
    assert flagged(record(2, a=fixed(10), b=fixed(57), air=fixed(10)), yard(resolution=500_000)) == calm


def test_a_neighbours_pending_reading_is_settled_before_its_hour_is_looked_at():
    """The only witness is a jump that nothing answered: it passes at its deadline, live and in a run in order."""
    rows = record(2, a=fixed(57.25), b=fixed(40))
    last = START + 23 * HOUR_MS + 50 * MINUTE_MS
    rows = [r for r in rows if r.probe == "a" or r.time < last]
    rows.append(Reading(last, "b", 50_000_000, "Cel"))
    assert [(h, flag) for h, flag, _ in flagged(sorted(rows), yard())] == [(0, 1), (25, 3), (48, 4)]


def test_a_run_from_the_middle_needs_its_run_in():
    """From RUN_IN_MS before, the flags are those of the whole record, where the resolution is configured."""
    rows = record(7, a=lambda t: 57.25 if t > START + 100 * HOUR_MS else 57 + (t // STEP % 3) / 16, b=air(), air=air())
    rows = sorted(rows + [Reading(r.time + 1, "c", 57_000_000, "Cel") for r in rows if r.probe == "a"])
    settings = yard(c=Probe(place="p1", role=Role.CORE, address="c", resolution_micro=62_500))
    whole = condition(rows, None, settings)
    begin = START + 130 * HOUR_MS
    part = condition([r for r in rows if r.time >= begin - RUN_IN_MS], None, settings)
    assert [v for v in part if v.time >= begin] == [v for v in whole if v.time >= begin]
    assert {v.flag for v in whole if v.time >= begin} == {Flag.PASS, Flag.SUSPECT, Flag.FAIL}
