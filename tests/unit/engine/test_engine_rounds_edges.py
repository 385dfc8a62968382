"""Rounds by hand at the very instant: when they prove, in which order they are taken, and what of a burning heap goes home."""

from types import SimpleNamespace

import pytest
from engine_yard import HOUR, MIN, T0, Drive, air, yard

from monitor.engine.batches.clashing_values import Rivals
from monitor.engine.batches.hand_rounds import newer_than_all, proving_spans, readings_by_hand, with_rounds
from monitor.engine.batches.moved_danger import _carry, carry_back, carry_danger
from monitor.engine.context.batch_deeds import Deed
from monitor.engine.context.places import FOREVER
from monitor.engine.context.read_spots import HandSpot
from monitor.model.settings import Pile
from monitor.model.work import Work, WorkKind
from monitor.piles import ROUND_MS, RoundPoint

NOW = T0 + 2 * HOUR


def point(time, low=40_000, high=60_000):
    return RoundPoint(time=time, low=low, high=high, first=time, spots=2)


# When they prove -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("deeds", "spans"),
    [
        ([], [(T0, FOREVER)]),
        ([(T0, Deed.ENTER, "a")], []),
        ([(T0 + 5, Deed.ENTER, "a")], [(T0, T0 + 5)]),
        ([(T0, Deed.ENTER, "a"), (T0 + 5, Deed.WENT_OUT, "a")], [(T0 + 5, FOREVER)]),
        ([(T0, Deed.ENTER, "a"), (T0 + 5, Deed.LEAVE, "a"), (T0 + 9, Deed.CAME_IN, "a")], [(T0 + 5, T0 + 9)]),
        ([(T0, Deed.ENTER, "a"), (T0, Deed.ENTER, "b"), (T0 + 5, Deed.WENT_OUT, "a")], []),
        ([(T0, Deed.ENTER, "a"), (T0 + 5, Deed.TURNED, "")], []),
        ([(T0 - 9, Deed.ENTER, "a"), (T0 - 5, Deed.WENT_OUT, "a")], [(T0, FOREVER)]),
        ([(T0, Deed.ENTER, "a"), (T0 + 5, Deed.WENT_OUT, "a"), (T0 + 5, Deed.CAME_IN, "a")], []),
    ],
)
def test_rounds_prove_while_no_core_probe_is_in(deeds, spans):
    assert proving_spans([(at, 0, what, probe) for at, what, probe in deeds], T0) == spans


def test_at_one_instant_what_is_done_comes_before_the_round_and_a_gap_on_both_sides_of_it():
    deeds = [(NOW, 3, Deed.CAME_IN, "a"), (NOW + HOUR, 3, Deed.WENT_OUT, "a")]
    found = with_rounds(deeds, T0, [point(NOW), point(NOW + HOUR)], [NOW + HOUR])
    assert [(at, what) for at, _, what, _ in found] == [
        (T0, Deed.ROUNDS_BEGIN),
        (NOW, Deed.CAME_IN), (NOW, Deed.ROUNDS_END), (NOW, Deed.ROUND),
        (NOW + HOUR, Deed.WENT_OUT), (NOW + HOUR, Deed.ROUNDS_BEGIN), (NOW + HOUR, Deed.UNREAD), (NOW + HOUR, Deed.ROUND),
        (NOW + HOUR, Deed.UNREAD),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("first", "last", "times", "newer"),
    [
        (None, None, [NOW], True),
        (NOW, NOW, [NOW + ROUND_MS], False),
        (NOW, NOW, [NOW + ROUND_MS + 1], True),
        (NOW, NOW + 2 * ROUND_MS, [NOW + 2 * ROUND_MS], False),
        (NOW, NOW + 2 * ROUND_MS, [NOW + 2 * ROUND_MS + 1], True),
        (NOW, NOW, [NOW + ROUND_MS + 1, NOW + ROUND_MS], False),
    ],
)
def test_a_round_goes_straight_on_if_it_is_later_than_the_whole_one_before(first, last, times, newer):
    assert newer_than_all(SimpleNamespace(round_first=first, round_last=last), times) is newer


# Whose they are --------------------------------------------------------------------------------------------------


@pytest.fixture
def drive():
    piles = {"p1": Pile(name="Bay 1", built=T0), "p2": Pile(name="Bay 2"), "p3": Pile(name="Bay 3")}
    return Drive(yard(piles=piles, bins={}, probes={"air": air()}))


def read(drive, at, celsius, place="p1", spot=""):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    row = [at, series, round(celsius * 1_000_000), "Cel"]
    drive.feed(at, "readings", {"rows": [row], "ahead": [], "by": "Ann"})


def test_the_readings_of_a_heap_are_those_of_its_piles_while_it_lay_there(drive):
    for at in (T0 + 1, NOW, NOW + HOUR):
        read(drive, at, 60)
    drive.work(NOW + HOUR, "p1", "moved", entered=NOW + 2 * HOUR, to="p2")
    read(drive, NOW + 3 * HOUR, 55, "p2")
    of = drive.engine.core
    of.history = drive.history
    found, unread = readings_by_hand(of, of.run_at("p2"))
    assert found == [(T0 + 1, "hand:p1", 60_000), (NOW, "hand:p1", 60_000), (NOW + 3 * HOUR, "hand:p2", 55_000)]
    assert unread == []
    of.state.withdrawn["hand:p1"] = [NOW]
    assert [time for time, *_ in readings_by_hand(of, of.run_at("p2"))[0]] == [T0 + 1, NOW + 3 * HOUR]
    of.history = None
    assert readings_by_hand(of, of.run_at("p2")) == ([], [])


def test_a_burning_value_that_comes_home_is_no_value_that_came_along(drive):
    """It was measured there, and only a newer reading of that spot is nearer to the truth."""
    read(drive, NOW, 85)
    of = drive.engine.core
    of.at = NOW + MIN
    _carry(of, "p1", "p2", NOW, along=(), stays=False)
    assert of.state.dangers["p2"].brought["hand:p1"].measured == NOW
    assert of.state.alarms["p2/fire"].on
    assert not of.state.alarms["p1/fire"].on
    assert of.state.alarms["p1/fire"].values.moved_to == "p2"
    _carry(of, "p2", "p1", NOW, along=(), stays=False)
    assert of.state.dangers["p1"].brought == {}
    assert of.state.alarms["p1/fire"].on


@pytest.mark.parametrize(("later", "burns"), [(ROUND_MS, True), (ROUND_MS + 1, False)])
def test_a_spot_that_was_read_again_meanwhile_decides_itself(drive, later, burns):
    read(drive, NOW, 85)
    of = drive.engine.core
    of.at = NOW + 3 * HOUR
    _carry(of, "p1", "p2", NOW, along=(), stays=False)
    of.state.hands["hand:p1"] = HandSpot("p1", "", NOW + later, 60_000, NOW + later)
    _carry(of, "p2", "p1", NOW, along=(), stays=False)
    assert of.state.alarms["p1/fire"].on is burns


def test_only_what_was_measured_before_it_went_goes_along(drive):
    read(drive, NOW, 85)
    of = drive.engine.core
    of.at = NOW + MIN
    _carry(of, "p1", "p2", NOW - 1, along=(), stays=False)
    assert "p2/fire" not in of.state.alarms
    _carry(of, "p1", "p2", NOW - 1, along=("hand:p1",), stays=True)
    assert of.state.alarms["p2/fire"].on
    assert of.state.alarms["p1/fire"].on, "the rest burns as well"
    _carry(of, "p1", "p3", NOW, along=(), stays=False, only=())
    assert "p3/fire" not in of.state.alarms


@pytest.mark.parametrize(
    "work",
    [
        {"kind": WorkKind.TURNED, "place": "p1", "to": "p2"},
        {"kind": WorkKind.MOVED, "place": "p1", "to": "p1"},
        {"kind": WorkKind.MOVED, "place": "gone", "to": "p2"},
        {"kind": WorkKind.MOVED, "place": "p1", "to": "b1"},
    ],
)
def test_what_moves_no_heap_between_piles_carries_no_danger(drive, work):
    read(drive, NOW, 85)
    of = drive.engine.core
    of.at = NOW + MIN
    carry_danger(of, Work(time=NOW, **work))
    carry_back(of, Work(time=NOW, **work), "p2")
    assert of.state.alarms["p1/fire"].on
    assert "p2/fire" not in of.state.alarms


# Several values of one instant -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rivals", "accepted", "upper", "counted"),
    [
        ((50_000, 50_000, True), True, False, (50_000, False)),
        ((70_000, 70_000, True), True, False, (60_000, False)),
        ((60_000, 60_000, True), True, True, (60_000, False)),
        ((60_000, 61_000, True), True, True, (None, True)),
        ((59_000, 60_000, True), True, True, (None, True)),
        ((50_000, 50_000, True), False, False, (None, True)),
        ((50_000, 50_000, False), True, False, (None, True)),
        ((None, None, False), True, False, (None, True)),
        ((None, None, False), False, False, (None, False)),
    ],
)
def test_of_several_values_the_coldest_counts_unless_heat_can_be_too_much(rivals, accepted, upper, counted):
    assert Rivals(*rivals).counted(60_000, accepted=accepted, upper=upper) == counted
