"""Copies of state: dataclasses, lists and dictionaries of plain values; a copy shares nothing that can change.

A year of digests copies the state of a rule a thousand times to ask for the progress of a batch. `copy.deepcopy` keeps a memo
of everything it has met, in case a value contains itself; no state here does, and without the memo a copy takes a fifth
of the time.
"""

from functools import cache
from typing import Any, TypeVar

_Kept = TypeVar("_Kept")
_PLAIN = frozenset({int, str, bool, float, bytes, type(None)})


def copy_of(value: _Kept) -> _Kept:
    """Return a copy of dataclasses, lists, dictionaries, sets and tuples of one another; other values count as unchangeable."""
    copied: _Kept = _copied(value)
    return copied


def _copied(value: Any) -> Any:
    kind = type(value)
    if kind in _PLAIN:
        return value
    if kind is list:
        return [_copied(one) for one in value]
    if kind is dict:
        return {key: _copied(one) for key, one in value.items()}
    if kind is set:
        return set(value)
    if isinstance(value, tuple):
        # The items of a tuple may change, though the tuple does not.
        parts = [_copied(one) for one in value]
        return tuple(parts) if kind is tuple else kind(*parts)
    names = _changeable_fields(kind)  # type: ignore[arg-type]  # a class can be hashed
    if not names:
        return value
    made = object.__new__(kind)
    for name in names:
        kept = getattr(value, name)
        setattr(made, name, kept if type(kept) in _PLAIN else _copied(kept))
    return made


@cache
def _changeable_fields(kind: type) -> tuple[str, ...]:
    """Return the fields of a dataclass whose objects change; none for a frozen one, or for other types."""
    told = getattr(kind, "__dataclass_params__", None)
    return () if told is None or told.frozen else tuple(getattr(kind, "__dataclass_fields__", ()))
