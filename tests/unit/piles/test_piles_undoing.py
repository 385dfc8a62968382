"""Undoing an entry leaves every heap where it would lie if nobody had ever made it; and who lay where is remembered."""

import random
from copy import deepcopy

from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from piles_script import T0, H
from pydantic import TypeAdapter

from monitor.material import PlacesOfHeaps
from monitor.model.settings import Pile
from monitor.model.words import Method
from monitor.model.work import Work, WorkKind
from monitor.piles import BatchBook, BatchState, forget_batch, reversal_of, take_back

PILES = {
    "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED),
    "p2": Pile(name="Bay 2", rule="none", method=Method.STATIC),
    "p3": Pile(name="Bay 3"),
}
BINS = {"b1", "b2"}
STATE = TypeAdapter(BatchState)
PLACED = (WorkKind.BUILT, WorkKind.BUILT, WorkKind.ADDED, WorkKind.EMPTIED, WorkKind.TURNED)
GOING = (WorkKind.MOVED, WorkKind.MOVED, WorkKind.SPLIT, WorkKind.MERGED)
seeds = st.integers(0, 1 << 40)
quick = settings(deadline=None, phases=[Phase.explicit, Phase.generate], database=None)


def some_works(rng):
    """Entries hours or days apart, none at the instant of another; an empty pile may be logged as emptied too."""
    at, found, book = T0, [], booked([])
    for _ in range(rng.randint(1, 9)):
        at += rng.choice([1, 5, 30]) * H
        place = rng.choice(["p1", "p1", "p2", "p3"])
        if rng.random() < 0.45:
            kind = rng.choice(PLACED if book.on(place) is not None else PLACED[:4])
            found.append(Work(time=at, place=place, kind=kind))
        else:
            to = rng.choice(["p1", "p2", "p3", "b1", "b2"])
            found.append(Work(time=at, place=place, kind=rng.choice(GOING), to=to))
        book.apply(found[-1])
    return found


def booked(works):
    book = BatchBook(BatchState(), PILES, BINS)
    for one in works:
        book.apply(one)
    return book


def plain(state):
    return STATE.dump_python(state)


@settings(quick, max_examples=150)
@given(seeds)
def test_the_newest_entry_undone_was_never_made(seed):
    works = some_works(random.Random(seed))
    state, without = booked(works).state, booked(works[:-1]).state
    reversal = reversal_of(state, works[-1])
    assert reversal.why_not == ""
    assert reversal.changes == (plain(state)["lying"] != plain(without)["lying"] or reversal.bedded != "")
    assert reversal.unsaid == (plain(state)["emptied"] != plain(without)["emptied"])
    take_back(state, works[-1], reversal)
    assert plain(state) == plain(without)


@settings(quick, max_examples=150)
@given(seeds)
def test_an_older_entry_is_undone_or_left_as_it_is_with_a_reason(seed):
    rng = random.Random(seed)
    works = some_works(rng)
    place = rng.randrange(len(works))
    state = booked(works).state
    before = plain(deepcopy(state))
    reversal = reversal_of(state, works[place])
    assert plain(state) == before  # asking changes nothing
    if reversal.why_not or not reversal.changes:
        return
    take_back(state, works[place], reversal)
    assert reversal_of(state, works[place]).changes is False  # it is undone once
    lying = list(state.lying.values())
    assert len(lying) == len(set(lying))
    assert all((state.batches[one].ended, state.batches[one].spans[-1].end) == (None, None) for one in lying)


@settings(quick, max_examples=150)
@given(seeds)
def test_who_lay_where_is_remembered(seed):
    works = some_works(random.Random(seed))
    book = BatchBook(BatchState(), PILES, BINS)
    lay = [(T0, {})]
    for one in works:
        book.apply(one)
        lay.append((one.time, dict(book.state.lying)))
    laid = PlacesOfHeaps(book.state.batches)
    for time in {at + off for at, _ in lay for off in (-1, 0, 1)}:
        now = [there for at, there in lay if at <= time][-1:] or [{}]
        just = [there for at, there in lay if at < time][-1:] or [{}]
        for pile in PILES:
            at = book.at(pile, time)
            assert (at.batch if at else None) == now[0].get(pile)
            assert laid.lying(pile, time) == now[0].get(pile, "")
            assert laid.left(pile, time) == just[0].get(pile, now[0].get(pile, ""))


@settings(quick, max_examples=100)
@given(seeds)
def test_a_heap_forgotten_was_never_there(seed):
    rng = random.Random(seed)
    works = some_works(rng)
    book = booked(works)
    pile, time = rng.choice(list(PILES)), works[-1].time + H
    before = plain(deepcopy(book.state))
    if not book.heard(pile, time):
        return
    name = book.on(pile).batch
    on_it = rng.choice([None, WorkKind.SPLIT, WorkKind.MERGED, WorkKind.MOVED, WorkKind.EMPTIED])
    if on_it is not None:
        to = rng.choice([one for one in PILES if one != pile])
        book.apply(Work(time=time + H, place=pile, kind=on_it, to="" if on_it is WorkKind.EMPTIED else to))
        assert forget_batch(book.state, name) == (on_it is WorkKind.SPLIT and to in before["lying"])
    else:
        assert forget_batch(book.state, name)
        assert plain(book.state) == before
