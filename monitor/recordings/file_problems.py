"""What is wrong with a file that somebody made: one sentence each, with the file and the line."""

from collections.abc import Iterator
from typing import NamedTuple

from monitor.model.errors import MisuseError

KEPT = 1000
"""So many problems are kept; the others are only counted, so that a hostile file cannot fill the memory."""

_SHOWN = 40


class Problem(NamedTuple):
    """One fault: where it is, what is wrong and what would be right.

    `time` (UTC ms) and `probe` are those of a row of readings where they can be read all the same; `of_heat` is false where
    it can be read that the row is of another quantity than temperature.
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
    """Gathers the problems of one or several files; when strict, the first one is raised instead."""

    def __init__(self, *, strict: bool = False) -> None:
        """Start with none."""
        self._strict = strict
        self._kept: list[Problem] = []
        self._count = 0

    def add(self, file: str, line: int, text: str, place: tuple[int | None, str, bool] = (None, "", True)) -> None:
        """Note a problem; `place` is its time, its probe, and whether it may be of a temperature.

        Raises:
            MisuseError: The gathering is strict.
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
        """Return all sentences, and one that says how many more there were."""
        found = [str(problem) for problem in self._kept]
        if self._count > KEPT:
            found.append(f"{self._count - KEPT} more problems of this kind were left out")
        return found


def quoted(text: str) -> str:
    """Return a field for a sentence: quoted, harmless on a terminal, and cut short."""
    return repr(text if len(text) <= _SHOWN else text[:_SHOWN] + "...")
