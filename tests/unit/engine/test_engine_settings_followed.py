"""What new settings change: which probes were carried, which heaps are worked out again and from when, who is forgotten."""

from dataclasses import replace

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, bedding, core, yard

from monitor.engine.context.read_spots import HandSpot
from monitor.engine.handlers import new_settings
from monitor.model.settings import Bin, Calibration, Pile, Probe
from monitor.model.thresholds import PileThresholds
from monitor.model.units import Quantity
from monitor.model.words import Method, Role

NOW = T0 + 6 * HOUR
PROBES = {
    "p1-a": core("p1"), "p1-b": core("p1"), "p1-m": core("p1", quantity=Quantity.MOISTURE), "b1-t": bedding("b1"),
    "b2-t": bedding("b2"), "air": air(),
}  # fmt: skip
PILES = {
    "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0),
    "p2": Pile(name="Bay 2", rule="us-112-54-static", method=Method.STATIC),
}


@pytest.fixture
def before():
    return yard(piles=PILES, probes=PROBES)


@pytest.fixture
def drive(before):
    made = Drive(before)
    made.hold(T0, NOW, p1_a=60, p1_b=50, p1_m=55, b1_t=20, b2_t=20, air=10)
    return made


@pytest.fixture
def touched(drive, monkeypatch):
    """The instants from which heaps are worked out again, as the settings leave them."""
    seen = []
    real = new_settings.advance_heaps

    def advance(core_):
        seen.append({run.batch: run.touched for run in core_.state.runs.values()})
        real(core_)

    monkeypatch.setattr(new_settings, "advance_heaps", advance)

    def of(after, at=NOW + MIN):
        drive.settle(at, after)
        return next(iter(seen.pop().values()))

    return of


def carried(drive, probe):
    return [(one.time, one.place) for one in drive.engine.state.carried if one.probe == probe]


def with_probes(settings, **more):
    known = {**settings.probes, **{name.replace("_", "-"): one for name, one in more.items()}}
    return replace(settings, probes={name: one for name, one in known.items() if one is not None})


# Probes -----------------------------------------------------------------------------------------------------------


def test_settings_that_say_the_same_touch_nothing(drive, before, touched):
    assert touched(before) is None
    assert drive.engine.state.carried == []


def test_a_probe_that_the_settings_move_was_carried_at_that_instant(drive, before, touched):
    assert touched(with_probes(before, p1_b=core("p2"))) == NOW + MIN
    assert carried(drive, "p1-b") == [(0, "p1"), (NOW + MIN, "p2")]
    assert touched(before, NOW + HOUR) == NOW + HOUR
    assert carried(drive, "p1-b") == [(0, "p1"), (NOW + MIN, "p2"), (NOW + HOUR, "p1")], "one beginning"


def test_a_probe_of_no_heap_touches_none(drive, before, touched):
    assert touched(with_probes(before, b1_t=bedding("b2"))) is None
    assert carried(drive, "b1-t") == [(0, "b1"), (NOW + MIN, "b2")]


def test_a_core_probe_that_goes_is_kept_for_its_heaps_record_and_no_other_is(drive, before, touched):
    assert touched(with_probes(before, p1_b=None, p1_m=None, b1_t=None)) == NOW + MIN
    state = drive.engine.state
    assert [*state.retired] == ["p1-b"]
    assert carried(drive, "p1-b") == [(0, "p1"), (NOW + MIN, "")]
    assert sorted(state.gone) == ["b1-t/temperature", "p1-b/temperature", "p1-m/moisture"]
    assert "p1-b" not in state.watches
    touched(before, NOW + HOUR)
    assert state.retired == {}
    assert state.gone == {}


def test_a_probe_that_comes_back_counts_as_heard_before_and_as_well(drive, before, touched):
    watch = drive.engine.state.watches["p1-b"]
    watch.silent = watch.broken = watch.lost = watch.ahead = True
    watch.hot_time = NOW
    touched(with_probes(before, p1_b=None))
    touched(before, NOW + HOUR)
    again = drive.engine.state.watches["p1-b"]
    assert again is watch
    assert [again.silent, again.broken, again.lost, again.ahead] == [False] * 4
    assert (again.hot_time, again.trail, again.accepted_milli) == (None, [], 50_000)


def test_a_probe_that_was_never_heard_leaves_nothing_behind(drive, before, touched):
    touched(with_probes(before, p1_c=core("p1")))
    assert "p1-c" in drive.engine.state.watches
    touched(before, NOW + HOUR)
    assert drive.engine.state.gone == {}
    assert "p1-c" not in drive.engine.state.watches


def test_a_new_core_probe_has_its_heap_worked_out_and_one_that_lies_outside_has_not(drive, before, touched):
    assert touched(with_probes(before, p1_c=core("p1"))) == NOW + MIN
    other = Probe(place="p1", role=Role.SURFACE, address="")
    assert touched(with_probes(before, p1_c=core("p1"), p1_s=other), NOW + HOUR) is None


# Calibrations, thresholds, rules ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("starts", "since"),
    [((T0 + HOUR,), T0 + HOUR), ((T0 + 2 * HOUR, T0 + HOUR), T0 + HOUR), ((None,), 0), ((None, T0 + HOUR), 0)],
)
def test_a_calibration_applies_from_its_own_start(before, touched, starts, since):
    own = tuple(Calibration(points=((50_000, 50_700 + n),), start=start) for n, start in enumerate(starts))
    assert touched(with_probes(before, p1_a=core("p1", calibrations=own))) == since


def test_only_the_calibrations_that_changed_matter(before, touched):
    old = Calibration(points=((50_000, 50_700),), start=T0 + HOUR)
    new = Calibration(points=((50_000, 50_900),), start=T0 + 3 * HOUR)
    assert touched(with_probes(before, p1_a=core("p1", calibrations=(old,)))) == T0 + HOUR
    assert touched(with_probes(before, p1_a=core("p1", calibrations=(old, new))), NOW + HOUR) == T0 + 3 * HOUR


def test_other_thresholds_have_the_whole_heap_worked_out(before, touched):
    warm = replace(PILES["p1"], thresholds=PileThresholds(warm_milli_c=30_000))
    assert touched(replace(before, piles={**PILES, "p1": warm})) == 0
    cool = replace(PILES["p2"], thresholds=PileThresholds(warm_milli_c=30_000))
    assert touched(replace(before, piles={"p1": warm, "p2": cool}), NOW + HOUR) is None


# Places -----------------------------------------------------------------------------------------------------------


def test_a_place_that_goes_takes_its_alarms_and_deadlines_along(drive, before):
    drive.hold(NOW + MIN, NOW + HOUR, p1_a=78, b2_t=31)
    assert drive.state_of("p1/too-hot") == drive.state_of("b2/overheating") == "unacknowledged"
    probes = {name: one for name, one in PROBES.items() if one.place not in ("p1", "b2")}
    drive.settle(
        NOW + 2 * HOUR, replace(before, piles={"p2": PILES["p2"]}, bins={"b1": Bin(name="Bin")}, probes=probes)
    )
    state = drive.engine.state
    assert not state.alarms["p1/too-hot"].on
    assert not state.alarms["b2/overheating"].on
    assert [*state.bins] == ["b1"]
    assert [*state.dangers] == ["p2"]
    assert not [one for one in state.agenda if one.place in ("p1", "b2")]


def test_a_probe_that_goes_takes_its_own_alarm_along_and_no_other(drive, before):
    drive.hold(NOW + 10 * MIN, NOW + 9 * HOUR, p1_a=60, p1_b=50, b2_t=31, air=10)
    assert drive.state_of("b1/silent/b1-t") == "unacknowledged"
    drive.settle(NOW + 10 * HOUR, with_probes(before, b1_t=None))
    state = drive.engine.state
    assert not state.alarms["b1/silent/b1-t"].on
    assert state.alarms["b2/overheating"].on
    assert "b1/silent/b1-t" not in {one.of for one in state.agenda}


def test_a_put_off_of_what_is_gone_is_forgotten(drive, before):
    drive.hold(NOW + MIN, NOW + HOUR, b2_t=31)
    drive.answer(NOW + HOUR + MIN, "b2/overheating", "put off", until=NOW + DAY)
    probes = {name: one for name, one in PROBES.items() if one.place != "b2"}
    drive.settle(NOW + 2 * HOUR, replace(before, bins={"b1": Bin(name="Bin")}, probes=probes))
    record = drive.engine.state.alarms["b2/overheating"]
    assert (record.until, record.muted_until) == (None, None)


def test_lines_of_the_digest_go_with_their_place_or_probe(drive, before):
    drive.read(NOW + MIN, p1_m=30)
    assert sorted(drive.engine.state.lines) == ["p1/pile-too-dry/p1-m", "p1/pile-too-wet/p1-m"]
    drive.settle(NOW + HOUR, before)
    assert len(drive.engine.state.lines) == 2
    drive.settle(NOW + 2 * HOUR, with_probes(before, p1_m=None))
    assert drive.engine.state.lines == {}


def test_what_was_read_by_hand_counts_again_when_its_place_is_back(drive, before):
    hands = drive.engine.state.hands
    hands["hand:b2"] = HandSpot("b2", "", NOW, 20_000, NOW, held_until=NOW + DAY)
    probes = {name: one for name, one in PROBES.items() if one.place != "b2"}
    gone = replace(before, bins={"b1": before.bins["b1"]}, probes=probes)
    drive.settle(NOW + MIN, gone)
    assert not hands["hand:b2"].held
    drive.settle(NOW + HOUR, before)
    assert hands["hand:b2"].held
    drive.settle(NOW + 2 * HOUR, gone)
    drive.settle(NOW + DAY, before)
    assert not hands["hand:b2"].held, "too long ago"


def test_of_a_pile_that_is_back_only_readings_of_its_present_heap_count(drive, before):
    hands = drive.engine.state.hands
    for spot, time in (("old", T0 - 1), ("new", T0)):
        hands[f"hand:p1:{spot}"] = HandSpot("p1", spot, time, 60_000, time, held_until=NOW + 9 * DAY)
    probes = {name: one for name, one in PROBES.items() if one.place != "p1"}
    drive.settle(NOW + MIN, replace(before, piles={"p2": PILES["p2"]}, probes=probes))
    drive.settle(NOW + HOUR, before)
    assert not hands["hand:p1:old"].held
    assert hands["hand:p1:new"].held


def test_a_heap_whose_pile_is_back_is_worked_out_again(drive, before, touched):
    probes = {name: one for name, one in PROBES.items() if one.place != "p1"}
    touched(replace(before, piles={"p2": PILES["p2"]}, probes=probes))
    assert touched(before, NOW + HOUR) == NOW + HOUR
