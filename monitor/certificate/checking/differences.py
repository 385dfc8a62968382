"""Names where two records, or two files, differ."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

import numpy as np

MOST_NAMED = 12
_NEAR = 16
_SHOWN = 60
_INDEX = re.compile(r"\[\d+\]")

# Sentences, not numbers: another version of the program may word them otherwise and mean the same.
_WORDED = frozenset({"reasons", "unbroken_reasons", "scattered_reasons", "reason", "why", "needs", "words"})


@dataclass(frozen=True, slots=True)
class Difference:
    """One place at which a record says something else than it should.

    Attributes:
        path: Where, such as `finding.total_ms`.
        said: What it says, shortened.
        gives: What its readings give, shortened.
    """

    path: str
    said: str
    gives: str

    @property
    def worded(self) -> bool:
        """Whether only a sentence differs."""
        return _INDEX.sub("", self.path).rpartition(".")[2] in _WORDED

    def sentence(self) -> str:
        """Return it for people."""
        return f"In the attached record, `{self.path}` says {self.said}, but its readings give {self.gives}."


def tree_differences(said: Any, gives: Any) -> list[Difference]:
    """Return where two trees of plain values differ, the first `MOST_NAMED` of them."""
    return list(islice(_walk(said, gives, ""), MOST_NAMED))


def _walk(said: Any, gives: Any, path: str) -> Iterator[Difference]:
    if isinstance(said, dict) and isinstance(gives, dict):
        for key in sorted(said.keys() | gives.keys()):
            below = f"{path}.{key}" if path else str(key)
            if key not in said or key not in gives:
                yield Difference(below, _short(said.get(key)), _short(gives.get(key)))
            else:
                yield from _walk(said[key], gives[key], below)
    elif isinstance(said, list) and isinstance(gives, list) and len(said) == len(gives):
        for place, (one, other) in enumerate(zip(said, gives, strict=True)):
            yield from _walk(one, other, f"{path}[{place}]")
    elif type(said) is not type(gives) or said != gives:
        yield Difference(path, _short(said), _short(gives))


def _short(value: Any) -> str:
    if isinstance(value, list):
        return f"a list of {len(value)}"
    text = "nothing" if value is None else repr(value)
    return text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"


def byte_ranges(one: bytes, other: bytes) -> list[tuple[int, int]]:
    """Return the ranges (first, last byte) in which two files differ; neighbours within a few bytes are one range."""
    size = min(len(one), len(other))
    differs = np.flatnonzero(np.frombuffer(one[:size], dtype=np.uint8) != np.frombuffer(other[:size], dtype=np.uint8))
    ranges: list[tuple[int, int]] = []
    if differs.size:
        breaks = np.flatnonzero(np.diff(differs) > _NEAR)
        firsts = differs[np.concatenate(([0], breaks + 1))]
        lasts = differs[np.concatenate((breaks, [differs.size - 1]))]
        ranges = list(zip(firsts.tolist(), lasts.tolist(), strict=True))
    if len(one) != len(other):
        ranges.append((size, max(len(one), len(other)) - 1))
    return ranges


def say_ranges(ranges: list[tuple[int, int]]) -> str:
    """Return ranges of bytes in words: `byte 1234; bytes 2000 to 2004; and 3 more places`."""
    named = [f"byte {first}" if first == last else f"bytes {first} to {last}" for first, last in ranges[:MOST_NAMED]]
    more = len(ranges) - len(named)
    return "; ".join(named) + (f"; and {more} more places" if more else "")
