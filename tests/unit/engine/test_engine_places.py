"""Where heaps and probes were at each instant, and which entries are about which heap, to the millisecond."""

from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.model.settings import AMBIENT, Pile
from monitor.model.words import Method


def drive_of(**probes):
    piles = {name: Pile(name=name, rule="us-112-54-turned", method=Method.TURNED) for name in ("p1", "p2", "p3")}
    return Drive(yard(piles=piles, probes={name.replace("_", "-"): probe for name, probe in probes.items()}))


def batch_on(drive, place):
    return drive.engine.state.batches.lying[place]


def works(drive, batch):
    return [((work.time - T0) / HOUR, work.kind.value, own) for work, own in drive.engine.core.works_of(batch)]


def test_a_probe_is_where_it_was_carried_from_that_very_instant_on():
    drive = drive_of(p1_a=core("p1"), p1_b=core("p1"), b1_t=bedding("b1"))
    drive.work(T0 + HOUR, "p2", "probe in", probe="p1-a")
    drive.work(T0 + 3 * HOUR, AMBIENT, "probe in", probe="p1-a")
    drive.work(T0 + 2 * HOUR, "b1", "probe in", probe="p1-b")
    places = drive.engine.core
    assert [places.place_at("p1-a", T0 + at) for at in (0, HOUR - 1, HOUR, 3 * HOUR - 1, 3 * HOUR)] == [
        "p1", "p1", "p2", "p2", AMBIENT,
    ]  # fmt: skip
    assert (places.place_of("p1-a"), places.place_of("gone"), places.place_at("gone", T0)) == (AMBIENT, "", "")
    assert [name for name, _ in places.probes_of("b1")] == ["b1-t", "p1-b"]
    assert places.cores_of("b1") == ["p1-b"]
    assert places.probes_of("p1") == places.probes_of("p2") == []


def test_a_heap_lay_where_it_was_moved_and_a_part_lay_where_the_whole_did_before():
    drive = drive_of()
    drive.work(T0, "p1", "built")
    whole = batch_on(drive, "p1")
    drive.work(T0 + 2 * HOUR, "p1", "split", to="p2")
    part = batch_on(drive, "p2")
    drive.work(T0 + 4 * HOUR, "p1", "moved", to="p3")
    drive.work(T0 + 6 * HOUR, "p3", "emptied")
    spans = drive.engine.core.spans_of
    assert spans(whole) == [("p1", T0, T0 + 4 * HOUR), ("p3", T0 + 4 * HOUR, T0 + 6 * HOUR)]
    assert [(pile, start) for pile, start, _ in spans(part)] == [("p1", T0), ("p2", T0 + 2 * HOUR)]
    assert spans(part)[0][2] == T0 + 2 * HOUR
    assert spans(part)[1][2] > T0 + 400 * DAY, "it lies there still"


def test_a_probe_served_while_it_and_the_heap_were_at_one_place():
    drive = drive_of(p1_a=core("p1"), p2_a=core("p2"))
    drive.work(T0, "p1", "built")
    batch = batch_on(drive, "p1")
    drive.work(T0 + HOUR, AMBIENT, "probe in", probe="p1-a")
    drive.work(T0 + 3 * HOUR, "p1", "probe in", probe="p1-a")
    drive.work(T0 + 5 * HOUR, "p1", "moved", to="p2", note="probes left")
    drive.work(T0 + 6 * HOUR, "p2", "probe in", probe="p1-a")
    drive.work(T0 + 8 * HOUR, "p2", "emptied")
    places = drive.engine.core
    assert places.serving_spans(batch, "p1-a") == [
        (T0, T0 + HOUR), (T0 + 3 * HOUR, T0 + 5 * HOUR), (T0 + 6 * HOUR, T0 + 8 * HOUR),
    ]  # fmt: skip
    assert places.serving_spans(batch, "p2-a") == [(T0 + 5 * HOUR, T0 + 8 * HOUR)]
    assert places.probes_ever(batch) == ["p1-a", "p2-a"]


def test_a_probe_that_goes_along_serves_without_a_break():
    drive = drive_of(p1_a=core("p1"))
    drive.work(T0, "p1", "built")
    batch = batch_on(drive, "p1")
    drive.work(T0 + 5 * HOUR, "p1", "moved", to="p2")
    assert drive.engine.core.serving_spans(batch, "p1-a") == [(T0, None)]
    assert drive.engine.core.serving_spans(batch, "gone") == []


def test_entries_are_of_the_heap_that_lay_there_at_their_time_both_ends_included():
    drive = drive_of()
    drive.work(T0, "p1", "built")
    first = batch_on(drive, "p1")
    drive.work(T0 + HOUR, "p1", "turned")
    drive.work(T0 + 2 * HOUR, "p2", "built")
    second = batch_on(drive, "p2")
    drive.work(T0 + 3 * HOUR, "p2", "watered")
    drive.work(T0 + 4 * HOUR, "p2", "merged", to="p1")
    drive.work(T0 + 5 * HOUR, "p1", "emptied")
    drive.work(T0 + 5 * HOUR, "p1", "watered", entered=T0 + 6 * HOUR)
    drive.work(T0 + 5 * HOUR + 1, "p1", "watered", entered=T0 + 6 * HOUR)
    assert works(drive, first) == [
        (0, "built", True),
        (1, "turned", True),
        (4, "merged", False),
        (5, "emptied", True),
        (5, "watered", True),
    ]
    assert works(drive, second) == [(2, "built", True), (3, "watered", True), (4, "merged", True)]


def test_what_was_thrown_on_a_heap_at_the_instant_at_which_it_moved_on_is_its_own_only_if_it_went_in():
    for onto, taken in (("p2", True), ("p3", False)):
        drive = drive_of()
        drive.work(T0, "p1", "built")
        drive.work(T0 + HOUR, "p2", "built")
        batch = batch_on(drive, "p2")
        drive.work(T0 + 2 * HOUR, "p1", "merged", to=onto)
        drive.work(T0 + 2 * HOUR, "p2", "moved", to="p3" if onto == "p2" else "p1", entered=T0 + 3 * HOUR)
        found = [kind for _, kind, own in works(drive, batch) if not own]
        assert (found == ["merged"]) is taken


def test_nothing_lies_where_the_log_says_so():
    drive = drive_of()
    places = drive.engine.core
    assert [places.nothing_lies(place) for place in ("p1", "b1", AMBIENT, "gone")] == [True, False, False, False]
    assert not places.was_cleared("p1"), "no heap was ever there"
    drive.work(T0, "p1", "built")
    assert not places.nothing_lies("p1")
    drive.work(T0 + HOUR, "p1", "emptied")
    drive.work(T0 + HOUR + MIN, "b1", "emptied")
    assert (places.nothing_lies("p1"), places.was_cleared("p1")) == (True, True)
    assert (places.nothing_lies("b1"), places.was_cleared("b1")) == (True, True)
    assert (places.batch_at("p1"), places.run_at("p1")) == (None, None)
