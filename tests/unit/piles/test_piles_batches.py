"""Which batch lies where."""

from dataclasses import replace

import pytest
from piles_script import T0, H
from pydantic import TypeAdapter

from monitor.material import PlacesOfHeaps
from monitor.model.settings import Pile
from monitor.model.times import DAY_MS
from monitor.model.words import Method
from monitor.model.work import Work, WorkKind
from monitor.piles import BatchBook, BatchNews, BatchState, probes_left

PILES = {
    "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED),
    "p2": Pile(name="Bay 2", rule="none", method=Method.STATIC),
    "p3": Pile(name="Bay 3"),
}
STATE = TypeAdapter(BatchState)


@pytest.fixture
def book():
    return BatchBook(BatchState(), PILES)


def work(kind, hour, place="p1", to="", note=""):
    return Work(time=T0 + round(hour * H), place=place, kind=kind, to=to, note=note)


def brief(changes):
    return [(change.news, change.batch, change.pile) for change in changes]


def test_first_reading_begins_the_first_batch_only(book):
    assert brief(book.heard("p1", T0)) == [(BatchNews.BEGAN, "p1-2026-03-01", "p1")]
    assert book.heard("p1", T0 + H) == []
    assert brief(book.apply(work(WorkKind.EMPTIED, 2))) == [(BatchNews.ENDED, "p1-2026-03-01", "p1")]
    assert book.heard("p1", T0 + 3 * H) == []
    assert book.on("p1") is None
    assert book.heard("nowhere", T0) == []


def test_built_ends_the_former_and_ids_of_one_day_get_a_suffix(book):
    book.begin("p1", T0)
    assert brief(book.apply(work(WorkKind.BUILT, 1))) == [
        (BatchNews.ENDED, "p1-2026-03-01", "p1"),
        (BatchNews.BEGAN, "p1-2026-03-01-2", "p1"),
    ]
    assert book.apply(work(WorkKind.BUILT, 2))[1].batch == "p1-2026-03-01-3"
    assert book.apply(work(WorkKind.BUILT, 24))[1].batch == "p1-2026-03-02"
    assert book.at("p1", T0 + H - 1).batch == "p1-2026-03-01"
    assert book.at("p1", T0 + H).batch == "p1-2026-03-01-2"
    assert book.at("p1", T0 - 1) is None


@pytest.mark.parametrize(
    ("note", "turned", "go"),
    [("", True, True), ("Not a turning", False, True), ("lifted whole, not a turning; probes left", False, False)],
)
def test_moved_keeps_rule_and_method_and_counts_as_turned(book, note, turned, go):
    book.begin("p1", T0)
    (change,) = book.apply(work(WorkKind.MOVED, 5, to="p2", note=note))
    assert (change.news, change.batch, change.pile, change.came_from) == (BatchNews.MOVED, "p1-2026-03-01", "p2", "p1")
    assert (change.turned, change.probes_go) == (turned, go)
    batch = book.on("p2")
    assert (batch.rule, batch.method) == ("us-112-54-turned", Method.TURNED)
    assert list(book.spans(batch.batch)) == [("p1", T0, T0 + 5 * H), ("p2", T0 + 5 * H, None)]
    assert book.on("p1") is None
    assert book.at("p2", T0 + 5 * H - 1) is None


def test_split_makes_a_second_batch_of_the_same_building(book):
    book.begin("p1", T0)
    (change,) = book.apply(work(WorkKind.SPLIT, 30, to="p2"))
    assert (change.news, change.batch, change.other) == (BatchNews.SPLIT, "p2-2026-03-02", "p1-2026-03-01")
    part = book.on("p2")
    assert (part.built, part.rule, part.parent) == (T0, "us-112-54-turned", "p1-2026-03-01")
    assert book.on("p1").batch == "p1-2026-03-01"


@pytest.mark.parametrize(("kind", "turned"), [(WorkKind.MERGED, False), (WorkKind.MOVED, True)])
def test_merged_ends_one_batch_in_the_other(book, kind, turned):
    book.begin("p1", T0)
    book.begin("p2", T0 + DAY_MS)
    (change,) = book.apply(work(kind, 48, to="p2"))
    assert (change.news, change.batch, change.other) == (BatchNews.MERGED, "p1-2026-03-01", "p2-2026-03-02")
    assert change.turned is turned
    gone = book.state.batches["p1-2026-03-01"]
    assert (gone.ended, gone.merged_into) == (T0 + 48 * H, "p2-2026-03-02")
    assert book.on("p1") is None
    assert book.on("p2").batch == "p2-2026-03-02"


def test_merged_onto_an_empty_pile_is_a_move_and_a_split_onto_a_batch_adds_to_it(book):
    book.begin("p1", T0)
    assert book.apply(work(WorkKind.MERGED, 1, to="p3"))[0].news is BatchNews.MOVED
    book.begin("p2", T0)
    assert brief(book.apply(work(WorkKind.SPLIT, 2, place="p3", to="p2"))) == [
        (BatchNews.ADDED_TO, "p2-2026-03-01", "p2")
    ]
    assert book.on("p3") is not None


@pytest.mark.parametrize("kind", [WorkKind.MOVED, WorkKind.MERGED, WorkKind.SPLIT])
def test_what_comes_from_where_nothing_is_known_to_lie_comes_all_the_same(book, kind):
    book.begin("p1", T0)
    assert brief(book.apply(work(kind, 1, place="p2", to="p1"))) == [(BatchNews.ADDED_TO, "p1-2026-03-01", "p1")]
    assert brief(book.apply(work(kind, 2, place="p2", to="p3"))) == [(BatchNews.BEGAN, "p3-2026-03-01", "p3")]


@pytest.mark.parametrize("kind", [WorkKind.MOVED, WorkKind.MERGED, WorkKind.SPLIT])
def test_what_goes_into_a_bin_is_its_bedding(kind):
    book = BatchBook(BatchState(), PILES, {"b1"})
    book.begin("p1", T0)
    changes = book.apply(work(kind, 1, to="b1"))
    assert (changes[0].news, changes[0].other) == (BatchNews.BEDDED, "b1")
    batch = book.state.batches["p1-2026-03-01"]
    assert [(one.time, one.bin) for one in batch.bedding] == [(T0 + H, "b1")]
    gone = kind is not WorkKind.SPLIT
    assert (book.on("p1") is None, batch.ended) == (gone, T0 + H if gone else None)


def test_ids_carry_the_local_date():
    # trade.md B17: 2 March 02:00 UTC is the evening before in New York; a batch that has its id keeps it.
    book = BatchBook(BatchState(), PILES, time_zone="America/New_York")
    midnight = T0 // DAY_MS * DAY_MS + DAY_MS
    assert book.begin("p1", midnight + 2 * H)[0].batch == "p1-2026-03-01"
    assert book.begin("p1", midnight + 4 * H)[1].batch == "p1-2026-03-01-2"
    assert book.begin("p2", midnight + 5 * H)[0].batch == "p2-2026-03-02"


MIDNIGHT = T0 // DAY_MS * DAY_MS


@pytest.mark.parametrize(
    ("built", "entry", "same"),
    [
        # The same instant means the heap that lies there already.
        (T0, work(WorkKind.BUILT, 0), True),
        (T0, work(WorkKind.BUILT, 1), False),
        # So does its day, where the configuration names only that.
        (MIDNIGHT, work(WorkKind.BUILT, 0), True),
        (MIDNIGHT, work(WorkKind.BUILT, 14.9), True),
        (MIDNIGHT, work(WorkKind.BUILT, 15), False),
        (MIDNIGHT, work(WorkKind.BUILT, -9.1), False),
        # Nothing else does, nor an entry of another pile.
        (T0, work(WorkKind.ADDED, 0), False),
        (T0, work(WorkKind.BUILT, 0, place="p2"), False),
    ],
)
def test_an_entry_may_mean_the_heap_that_lies_there_already(built, entry, same):
    book = BatchBook(BatchState(), {**PILES, "p1": replace(PILES["p1"], built=built)})
    book.begin("p1", built)
    assert book.builds_again(entry) is same
    if entry.place == "p1" and entry.kind is WorkKind.BUILT:
        assert bool(book.apply(entry)) is not same


def test_a_day_that_only_the_work_log_names_is_an_instant():
    book = BatchBook(BatchState(), PILES)
    book.begin("p1", MIDNIGHT)
    assert not book.builds_again(work(WorkKind.BUILT, 0))


def test_a_heap_that_was_moved_here_was_built_elsewhere(book):
    book.begin("p1", T0)
    book.apply(work(WorkKind.MOVED, 5, to="p2"))
    assert not book.builds_again(work(WorkKind.BUILT, 0, place="p2"))


@pytest.mark.parametrize(
    ("note", "left"),
    [
        ("Probes left", True),
        ("left the probe", True),
        ("probe left in bay 1", True),
        ("leaves on the probe", False),
        ("", False),
    ],
)
def test_a_note_says_whether_the_probes_stayed(note, left):
    assert probes_left(work(WorkKind.MOVED, 1, to="p2", note=note)) is left


def test_the_batch_that_lay_on_a_pile_until_an_instant(book):
    book.begin("p1", T0)
    book.apply(work(WorkKind.MOVED, 5, to="p3"))
    book.begin("p1", T0 + 5 * H)
    lay = PlacesOfHeaps(book.state.batches)
    assert lay.left("p1", T0 + 5 * H) == "p1-2026-03-01"
    assert lay.left("p1", T0 + 5 * H + 1) == "p1-2026-03-01-2"
    assert lay.left("p3", T0 + 5 * H - 1) == ""
    assert lay.there("p1", T0 + 5 * H) == ["p1-2026-03-01", "p1-2026-03-01-2"]
    assert lay.lying("p1", T0 + 5 * H) == "p1-2026-03-01-2"
    assert lay.lying("p1", T0 - 1) == lay.lying("p9", T0) == ""


def test_added_begins_a_batch_on_an_empty_pile_only(book):
    assert brief(book.apply(work(WorkKind.ADDED, 0))) == [(BatchNews.BEGAN, "p1-2026-03-01", "p1")]
    assert book.apply(work(WorkKind.ADDED, 1)) == []


@pytest.mark.parametrize(
    "entry",
    [
        work(WorkKind.MOVED, 1),
        work(WorkKind.MOVED, 1, to="b1"),
        work(WorkKind.MOVED, 1, to="p1"),
        work(WorkKind.SPLIT, 1, place="p2", to="p2"),
        work(WorkKind.BUILT, 1, place="b1"),
        work(WorkKind.EMPTIED, 1, place="p2"),
        work(WorkKind.TURNED, 1),
    ],
)
def test_what_makes_no_sense_changes_nothing(book, entry):
    book.begin("p1", T0)
    assert book.apply(entry) == []
    assert book.on("p1").batch == "p1-2026-03-01"


def test_the_state_goes_through_json(book):
    book.begin("p1", T0)
    book.apply(work(WorkKind.SPLIT, 1, to="p2"))
    book.apply(work(WorkKind.MOVED, 2, to="p3"))
    again = STATE.validate_json(STATE.dump_json(book.state))
    assert again == book.state
    assert BatchBook(again, PILES).on("p3").batch == "p1-2026-03-01"
