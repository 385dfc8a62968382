"""A fault of the configuration as a sentence: its place, the fault itself, and a value that would be right.

Rules: all faults are collected before any is shown; a fault is shown once, in order of lines; a value is quoted as
written, except a secret's.
"""

import difflib
from collections.abc import Iterable
from dataclasses import dataclass, field

KeyPath = tuple[str | int, ...]
"""A key as a path: `("mqtt", "subscriptions", 0, "topic")`."""


class UnfitError(ValueError):
    """A value makes no sense; carries the fault and what would be right, but not the key."""

    def __init__(self, wrong: str, right: str) -> None:
        """Keep both halves of the sentence."""
        self.wrong = wrong
        self.right = right
        super().__init__(f"{wrong}; {right}")


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault at one key."""

    path: KeyPath
    wrong: str
    right: str


def show_path(path: KeyPath) -> str:
    """Return a key path as people write it; list items count from 1: `mqtt.subscriptions[1].topic`."""
    text = ""
    for part in path:
        if isinstance(part, int):
            text += f"[{part + 1}]"
        else:
            text += ("." if text else "") + (f'"{part}"' if "." in part or " " in part else part)
    return text


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that is most like a mistyped one, or None if none is near."""
    by_lower = {name.lower(): name for name in known}
    found = difflib.get_close_matches(word.lower(), list(by_lower), n=1, cutoff=0.6)
    return by_lower[found[0]] if found else None


def one_of(known: Iterable[str]) -> str:
    """Return words as people list them: `a, b or c`."""
    words = list(known)
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " or " + words[-1]


def suggestion(word: str, known: Iterable[str], *, noun: str) -> str:
    """Make the half sentence that says what to write instead of an unknown word.

    Args:
        word: The unknown word.
        known: Words that are allowed; may be empty.
        noun: Kind of thing that the word names, such as `place`.

    Returns:
        A question with the nearest known word, else a list of the known ones, else where to look them up.
    """
    words = sorted(known)
    near = nearest(word, words)
    if near is not None:
        return f'did you mean "{near}"?'
    if not words:
        return f"no {noun} is configured"
    if len(words) > 16:
        return f"there are {len(words)} of them; docs/configuration.md lists each {noun}"
    return f"known here: {one_of(words)}"


@dataclass(slots=True)
class Problems:
    """Collects faults; `lines` and `variables` record where each key was written."""

    file: str
    lines: dict[KeyPath, int] = field(default_factory=dict)
    variables: dict[KeyPath, str] = field(default_factory=dict)
    found: list[Problem] = field(default_factory=list)
    gone: dict[KeyPath, set[int]] = field(default_factory=dict)
    """Items removed from each list, by their numbers in the file."""

    def original(self, path: KeyPath) -> KeyPath:
        """Return a path of the present document with the item numbers of the file, as if no item had been removed."""
        written: KeyPath = ()
        for part in path:
            number = part
            if isinstance(number, int):
                for gone in sorted(self.gone.get(written, ())):
                    number += gone <= number
            written = (*written, number)
        return written

    def add(self, path: KeyPath, wrong: str, right: str) -> None:
        """Note one fault; the same fault at the same key is noted once.

        Args:
            path: Key at fault, with item numbers of the present document.
            wrong: First half of the sentence: the fault, quoting the value.
            right: Second half: what to write instead.
        """
        problem = Problem(self.original(path), wrong, right)
        if problem not in self.found:
            self.found.append(problem)

    def fault(self, path: KeyPath, fault: UnfitError) -> None:
        """Note the objection of a reader to one value."""
        self.add(path, fault.wrong, fault.right)

    def under(self, table: str) -> bool:
        """Return whether a top table holds any fault, so that nothing can be built from it."""
        return any(problem.path[:1] == (table,) for problem in self.found)

    def _line(self, path: KeyPath) -> int | None:
        for length in range(len(path), 0, -1):
            if path[:length] in self.lines:
                return self.lines[path[:length]]
        return None

    def _where(self, path: KeyPath) -> str:
        for length in range(len(path), 0, -1):
            if path[:length] in self.variables:
                return self.variables[path[:length]]
            if path[:length] in self.lines:
                return f"{self.file}, line {self.lines[path[:length]]}"
        return self.file

    def sentences(self) -> list[str]:
        """Return all faults as sentences, in order of their lines, those without a line last."""

        def order(problem: Problem) -> tuple[int, str]:
            line = self._line(problem.path)
            return (line if line is not None else 1_000_000_000, show_path(problem.path))

        return [
            f"{self._where(problem.path)}: {show_path(problem.path)}: {problem.wrong}; {_ended(problem.right)}"
            for problem in sorted(self.found, key=order)
        ]


def _ended(text: str) -> str:
    return text if text.endswith(("?", ".")) else text + "."
