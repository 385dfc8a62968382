"""Faults of a file that somebody made: one sentence each, with the file and the line."""

from collections.abc import Iterator
from typing import NamedTuple

from monitor.model.errors import MisuseError

KEPT = 1000
"""Most problems kept; further ones are only counted, so that a hostile file cannot fill the memory."""

_SHOWN = 40


class Problem(NamedTuple):
    """One fault: its place, the fault itself, and what would be right.

    `time` (UTC ms) and `probe` belong to a row of readings and are set if they can be read despite the fault; `of_heat` is
    false if the row is readably of another quantity than temperature.
    """

    file: str
    line: int
    text: str
    time: int | None = None
    probe: str = ""
    of_heat: bool = True

    def __str__(self) -> str:
        return f"{self.file} line {self.line}: {self.text}"


class Problems:
    """Gathers the problems of one or several files; strict problems raise the first one instead."""

    def __init__(self, *, strict: bool = False) -> None:
        """Start without problems."""
        self._strict = strict
        self._kept: list[Problem] = []
        self._count = 0

    def add(self, file: str, line: int, text: str, place: tuple[int | None, str, bool] = (None, "", True)) -> None:
        """Note a problem.

        Args:
            file: Name of the file.
            line: Number of the line, from 1.
            text: The sentence, without file and line.
            place: Time of the row (UTC ms) or None, its probe or "", and whether it may be a temperature.

        Raises:
            MisuseError: The problems are strict.
        """
        problem = Problem(file, line, text, *place)
        if self._strict:
            raise MisuseError(str(problem))
        self._count += 1
        if self._count <= KEPT:
            self._kept.append(problem)

    def __len__(self) -> int:
        return self._count

    def __iter__(self) -> Iterator[Problem]:
        return iter(self._kept)

    def sentences(self) -> list[str]:
        """Return all sentences, and a last one with the number of those not kept."""
        found = [str(problem) for problem in self._kept]
        if self._count > KEPT:
            found.append(f"{self._count - KEPT} more problems of this kind were left out")
        return found


def quoted(text: str) -> str:
    """Return a field for a sentence: quoted, harmless on a terminal, and cut short."""
    return repr(text if len(text) <= _SHOWN else text[:_SHOWN] + "...")
