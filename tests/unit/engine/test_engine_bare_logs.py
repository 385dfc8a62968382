"""A batch's record from a bare log: where it lay, which probe served when, and by which entry it came and went."""

import pytest
from engine_yard import HOUR, T0

from monitor.engine.records.batch_lookup import lone_batch
from monitor.engine.records.batch_record import batch_record
from monitor.model.work import Work, WorkKind

PLAIN = {
    "piles": {name: {"name": name} for name in ("p1", "p2", "p3")},
    "probes": {probe: {"place": "", "role": "core", "address": probe} for probe in ("a", "b")},
}


def entry(hours, kind, place="p1", **more):
    return Work(time=T0 + hours * HOUR, place=place, kind=WorkKind(kind), **more)


def lone(*works, pile="p1", first=0, others=None, **more):
    """The record; times are hours since `T0`, also those of the first readings."""
    others = {name: T0 + hours * HOUR for name, hours in (others or {}).items()}
    core, run = lone_batch(PLAIN, works, pile, T0 + first * HOUR, others=others, **more)
    return None if run is None else batch_record(core, run, None, bare=True)


def hours(at):
    return None if at is None else (at - T0) // HOUR


def spans(record):
    return [(pile, hours(start), hours(end)) for pile, start, end in record.spans]


def changes(record, probe):
    found = record.service[probe].changes
    return [
        (hours(one.time), "in" if one.into else "out", one.how, one.logged and one.logged.work.kind) for one in found
    ]


@pytest.mark.parametrize(
    ("works", "where"),
    [
        ([], [("p1", 0, None)]),
        ([entry(1, "built")], [("p1", 1, None)]),
        ([entry(-24, "built")], [("p1", -24, None)]),
        ([entry(-24, "built", "p2"), entry(24, "moved", "p2", to="p1")], [("p2", -24, 24), ("p1", 24, None)]),
        ([entry(-24, "built", "p2"), entry(24, "split", "p2", to="p1")], [("p2", -24, 24), ("p1", 24, None)]),
        ([entry(-24, "built"), entry(24, "moved", to="p2")], [("p1", -24, 24), ("p2", 24, None)]),
        ([entry(0, "built"), entry(24, "emptied"), entry(48, "built")], [("p1", 48, None)]),
        ([entry(48, "built"), entry(24, "emptied"), entry(0, "built")], [("p1", 48, None)]),
    ],
)
def test_it_is_the_newest_that_lay_on_the_pile_and_begins_as_the_log_says_else_with_its_first_reading(works, where):
    record = lone(*works)
    assert spans(record) == where
    assert [hours(at) for at in record.restarts] == [where[0][1]]
    for probe in "ab":
        assert [change[:3] for change in changes(record, probe)] == [(where[0][1], "in", "built")]


def test_an_older_batch_can_be_asked_for_and_its_probes_went_with_its_end():
    works = [entry(0, "built"), entry(24, "emptied"), entry(48, "built")]
    newest = lone(*works).batch.batch
    older = next(one for one in lone_batch(PLAIN, works, "p1", T0)[0].state.batches.batches if one != newest)
    record = lone(*works, batch=older)
    assert spans(record) == [("p1", 0, 24)]
    assert changes(record, "a") == [(0, "in", "built", "built"), (24, "out", "end of the batch", "emptied")]
    assert lone(*works, batch="gone").batch.batch == newest


def test_without_any_heap_there_is_no_record():
    assert lone(entry(24, "emptied"), first=48) is None


@pytest.mark.parametrize(
    ("works", "a", "b"),
    [
        (
            [entry(24, "probe out", probe="a"), entry(48, "probe in", probe="a")],
            [(24, "out", "probe out", "probe out"), (48, "in", "probe in", "probe in")],
            [],
        ),
        (
            [entry(24, "turned"), entry(26, "turned"), entry(27, "probe in", probe="a"), entry(48, "turned"),
             entry(49, "probe in", probe="b")],
            [(24, "out", "turning", "turned"), (27, "in", "probe in", "probe in")],
            [(48, "out", "turning", "turned"), (49, "in", "probe in", "probe in")],
        ),
        (
            [entry(24, "moved", to="p2", note="probes left"), entry(48, "probe in", "p2", probe="a")],
            [(24, "out", "turning", "moved"), (48, "in", "probe in", "probe in")],
            [(24, "out", "moved", "moved")],
        ),
        ([entry(24, "moved", to="p2")], [], []),
        ([entry(24, "added"), entry(25, "watered")], [], []),
    ],
    ids=["out and in", "turned", "left behind", "moved", "added"],
)  # fmt: skip
def test_each_probe_serves_from_the_building_on_but_where_the_log_says_that_it_was_out(works, a, b):
    record = lone(entry(0, "built"), *works)
    begun = (0, "in", "built", "built")
    assert changes(record, "a") == [begun, *a]
    assert changes(record, "b") == [begun, *b]
    assert [(logged.work.kind, own) for logged, own in record.works] == [
        ("built", True),
        *((w.kind, True) for w in works),
    ]


@pytest.mark.parametrize(
    ("works", "turnings", "restarts"),
    [
        ([entry(24, "turned"), entry(26, "turned"), entry(48, "turned")], [24, 26, 48], [0]),
        ([entry(24, "added")], [], [0, 24]),
        ([entry(24, "moved", to="p2")], [24], [0]),
        ([entry(24, "watered"), entry(25, "note")], [], [0]),
        ([entry(-24, "built", "p2"), entry(24, "merged", "p2", to="p1")], [], [0, 24]),
        ([entry(24, "turned", "p2")], [], [0]),
    ],
)
def test_turnings_count_and_raw_material_begins_it_anew(works, turnings, restarts):
    record = lone(entry(0, "built"), *works)
    assert [hours(at) for at in record.turnings] == turnings
    assert [hours(at) for at in record.restarts] == restarts
    assert record.joins == ()
    assert [met for _, met in record.came_in] == [False] * (len(restarts) - 1)


@pytest.mark.parametrize(("read", "known"), [(-24, True), (48, False), (None, False)])
def test_another_heap_that_began_with_a_reading_comes_in_with_what_the_log_says(read, known):
    merged = entry(24, "merged", "p2", to="p1")
    record = lone(entry(0, "built"), merged, others={} if read is None else {"p2": read, "p1": -99})
    ((came, met),) = record.came_in
    assert (came.work, bool(came.batch), met) == (merged, known, False)
    assert spans(record) == [("p1", 0, None)]


def test_a_probe_that_was_in_another_batch_follows_that_one():
    works = [entry(0, "built"), entry(0, "built", "p2"), entry(24, "moved", "p2", to="p3")]
    other = next(one for one in lone_batch(PLAIN, works, "p1", T0)[0].state.batches.batches if one.startswith("p2"))
    assert set(lone(*works, follow={"b": other}).service) == {"a"}
    assert set(lone(*works, follow={"b": "gone"}).service) == {"a", "b"}
    assert set(lone(*works, pile="p3", follow={"a": "p1"}).service) == {"a", "b"}


def test_rounds_by_hand_prove_while_both_probes_are_out():
    out = [entry(24, "probe out", probe="a"), entry(26, "probe out", probe="b"), entry(48, "probe in", probe="b")]
    record = lone(entry(0, "built"), *out)
    assert [(hours(start), hours(end)) for start, end in record.rounds] == [(26, 48)]
    assert lone(entry(0, "built")).rounds == ()
    assert [(hours(s), hours(e)) for s, e in lone(entry(0, "built"), *out[:2]).rounds] == [(26, None)]
