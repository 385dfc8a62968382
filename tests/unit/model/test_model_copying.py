"""Copies of what is remembered are equal to it, of the same kinds, and share nothing that changes."""

from copy import deepcopy
from dataclasses import dataclass, field, fields, is_dataclass
from typing import NamedTuple

from hypothesis import given
from hypothesis import strategies as st

from monitor.conditioning import ConditioningState
from monitor.model.copying import copy_of
from monitor.piles.state import WalkState
from monitor.proof.following import HoldState


class Pair(NamedTuple):
    first: object
    second: object


@dataclass(frozen=True)
class Fixed:
    number: int


@dataclass
class Kept:
    number: int = 0
    rows: list = field(default_factory=list)


@dataclass(slots=True)
class Slotted:
    text: str
    inner: Kept
    by_name: dict = field(default_factory=dict)


def shared(one, other):
    """Yield every object that changes and stands in both."""
    changes = isinstance(one, list | dict | set) or (is_dataclass(one) and not type(one).__dataclass_params__.frozen)
    if changes and one is other:
        yield one
    if isinstance(one, dict):
        for key in one:
            yield from shared(one[key], other[key])
    elif isinstance(one, list | tuple):
        for left, right in zip(one, other, strict=True):
            yield from shared(left, right)
    elif is_dataclass(one):
        for entry in fields(one):
            yield from shared(getattr(one, entry.name), getattr(other, entry.name))


PLAIN = st.none() | st.booleans() | st.integers() | st.text(max_size=3) | st.floats(allow_nan=False)
VALUES = st.recursive(
    PLAIN | st.builds(Fixed, st.integers()) | st.sets(st.integers(), max_size=3),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.text(max_size=2), inner, max_size=3)
        | st.tuples(inner, inner)
        | st.builds(Pair, inner, inner)
        | st.builds(Kept, st.integers(), st.lists(inner, max_size=2))
        | st.builds(Slotted, st.text(max_size=2), st.builds(Kept, st.integers(), st.lists(inner, max_size=2)))
    ),
    max_leaves=12,
)


@given(VALUES)
def test_a_copy_is_what_deepcopy_gives_and_shares_nothing_that_changes(value):
    copy = copy_of(value)
    assert copy == value == deepcopy(value)
    assert type(copy) is type(value)
    assert not list(shared(value, copy))


def test_what_the_engine_remembers_is_copied_whole():
    for state in (WalkState(built=1), HoldState(), ConditioningState()):
        copy = copy_of(state)
        assert copy == state
        assert copy is not state
        assert not list(shared(state, copy))
