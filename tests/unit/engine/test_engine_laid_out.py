"""Probes of bins, and those of a heap that its batch's walk does not follow, while they lie outside."""

import pytest
from engine_both_doors import Recorder, same
from engine_yard import DAY, HOUR, MIN, T0, Drive, yard

from monitor.model.settings import Pile, Probe
from monitor.model.units import Quantity
from monitor.model.words import Method, Role

PROBES = {
    **yard().probes,
    "p1-m": Probe(place="p1", role=Role.CORE, address="", quantity=Quantity.MOISTURE),
    "p1-s": Probe(place="p1", role=Role.SURFACE, address=""),
}
YARD = yard(
    probes=PROBES, piles={"p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0)}
)  # fmt: skip


def wet(drive, at, probe, percent):
    drive.feed(at, "readings", {"rows": [[at, probe, percent * 1_000_000, "%"]], "ahead": []})


def test_a_probe_taken_out_of_a_bin_says_nothing_of_it_until_it_is_back_and_warm():
    drive = Drive(YARD)
    drive.hold(T0, T0 + HOUR, b2_t=20)
    drive.work(T0 + HOUR + MIN, "b2", "probe out", probe="b2-t")
    conditions = [e.draft for e in drive.effects if e.draft.kind.value == "condition" and e.draft.place == "b2"]
    assert (conditions[-1].after, conditions[-1].reason) == ("unknown", "outside")
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 4 * HOUR, b2_t=36)
    assert drive.rings("worms-in-danger") == []
    assert drive.rings("silent", "b2") == []
    drive.work(T0 + 4 * HOUR + MIN, "b2", "probe in", probe="b2-t")
    drive.hold(T0 + 4 * HOUR + 10 * MIN, T0 + 5 * HOUR, b2_t=36)
    assert drive.rings("worms-in-danger") == [], "it has not taken on the warmth of the bed"
    drive.hold(T0 + 5 * HOUR + MIN, T0 + 5 * HOUR + 2 * MIN, step=MIN, b2_t=36)
    assert drive.state_of("b2/worms-in-danger") == "unacknowledged"


def test_an_alarm_does_not_end_because_its_probe_was_taken_out():
    drive = Drive(YARD)
    drive.read(T0, b2_t=36)
    drive.work(T0 + HOUR, "b2", "probe out", probe="b2-t")
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 3 * HOUR, b2_t=15)
    assert drive.state_of("b2/worms-in-danger") == "unacknowledged"


def test_a_bins_probe_left_outside_is_reminded_of():
    drive = Drive(YARD)
    drive.read(T0, b2_t=20)
    drive.work(T0 + MIN, "b2", "probe out", probe="b2-t")
    drive.advance(T0 + 12 * HOUR + MIN)
    assert drive.notices("Shed bin: b2-t has been outside since")
    assert "its probes have been outside since" in drive.engine.watched_words(T0 + 12 * HOUR + MIN)


def turned(drive):
    drive.hold(T0, T0 + HOUR, p1_a=58, p1_b=58, p1_s=50, air=10)
    wet(drive, T0 + HOUR + MIN, "p1-m", 55)
    drive.work(T0 + HOUR + 2 * MIN, "p1", "turned")


def test_a_turning_takes_all_probes_out_and_the_rest_come_back_with_the_last_core_probe():
    drive = Drive(YARD)
    turned(drive)
    outside = {probe for probe, one in drive.engine.state.outings.items() if one.out is not None}
    assert outside == {"p1-a", "p1-b", "p1-m", "p1-s"}
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 2 * HOUR, p1_a=10, p1_b=10, p1_s=83, air=10)
    assert drive.rings("fire") == [], "what it reads on the ground, in the sun, is not the heap's"
    drive.work(T0 + 2 * HOUR + MIN, "p1", "probe in", probe="p1-a")
    assert drive.engine.state.outings["p1-s"].out is not None
    drive.work(T0 + 2 * HOUR + 2 * MIN, "p1", "probe in", probe="p1-b")
    rest = drive.engine.state.outings["p1-s"]
    assert (rest.out, rest.returned, rest.accepted_from) == (None, T0 + 2 * HOUR + 2 * MIN, T0 + 3 * HOUR + 2 * MIN)
    drive.read(T0 + 3 * HOUR, p1_s=83)
    assert drive.rings("fire") == []
    drive.hold(T0 + 3 * HOUR + 2 * MIN, T0 + 3 * HOUR + 4 * MIN, step=MIN, p1_s=83)
    assert drive.state_of("p1/fire") == "unacknowledged"


def test_the_rest_come_back_when_the_core_probes_are_seen_to_be_back():
    drive = Drive(YARD)
    turned(drive)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 2 * HOUR, p1_a=10, p1_b=10, p1_s=10, air=10)
    drive.hold(T0 + 2 * HOUR + 10 * MIN, T0 + 3 * HOUR, p1_a=50, p1_b=50, p1_s=40, air=10)
    assert drive.engine.state.outings["p1-s"].returned == T0 + 2 * HOUR + 10 * MIN


def test_a_core_probe_that_is_taken_out_later_takes_no_other_along():
    drive = Drive(YARD)
    turned(drive)
    for probe in ("p1-a", "p1-b"):
        drive.work(T0 + 2 * HOUR, "p1", "probe in", probe=probe)
    drive.work(T0 + 5 * HOUR, "p1", "probe out", probe="p1-a")
    outside = {probe for probe, one in drive.engine.state.outings.items() if one.out is not None}
    assert outside == {"p1-a"}
    drive.work(T0 + 6 * HOUR, "p1", "turned")
    outside = {probe for probe, one in drive.engine.state.outings.items() if one.out is not None}
    assert {"p1-b", "p1-m", "p1-s"} <= outside


def test_a_turning_that_is_taken_back_leaves_them_in():
    drive = Drive(YARD)
    turned(drive)
    at = next(one.at for one in drive.engine.state.works if one.work.kind == "turned")
    drive.feed(T0 + 2 * HOUR, "correction", {"of": at, "work": None, "by": "Ann"})
    assert drive.engine.state.outings.get("p1-s") is None
    drive.hold(T0 + 2 * HOUR + MIN, T0 + 2 * HOUR + 3 * MIN, step=MIN, p1_s=83)
    assert drive.state_of("p1/fire") == "unacknowledged"


def test_an_emptied_pile_forgets_what_lay_outside():
    drive = Drive(YARD)
    turned(drive)
    drive.work(T0 + 2 * HOUR, "p1", "emptied")
    assert {p for p, one in drive.engine.state.outings.items() if one.out is not None} == set()


@pytest.mark.parametrize("back", [None, 2 * HOUR])
def test_both_doors_take_it_alike(back):
    drive = Recorder(YARD)
    turned(drive)
    drive.work(T0 + HOUR + 3 * MIN, "b2", "probe out", probe="b2-t")
    for n in range(60):
        at = T0 + HOUR + 10 * MIN + n * 10 * MIN
        warm = 10 if n < 12 else 50
        drive.read(at, p1_a=warm, p1_b=warm, p1_s=warm, b2_t=36, b1_t=20, air=10)
        if back is not None and at == T0 + HOUR + 10 * MIN + back:
            drive.work(at + MIN, "b2", "probe in", probe="b2-t")
    same(drive, T0 + DAY)


def test_nobody_is_asked_to_put_probes_back_into_a_heap_that_may_burn():
    drive = Drive(YARD)
    drive.hold(T0, T0 + HOUR, p1_a=58, p1_b=58, air=10)
    drive.hold(T0 + HOUR + MIN, T0 + HOUR + 5 * MIN, step=MIN, p1_a=84, p1_b=84)
    assert drive.state_of("p1/fire") == "unacknowledged"
    drive.work(T0 + HOUR + 6 * MIN, "p1", "turned")
    assert drive.state_of("p1/fire") == "unacknowledged"
    drive.advance(T0 + 14 * HOUR)
    texts = {one.draft.text for one in drive.notices("outside since")}
    assert not [one for one in texts if "Put them back" in one]
    (said,) = [one for one in texts if "Leave them out" in one]
    assert "Leave them out while the heap may burn; until they are back nothing counts for the rule." in said
