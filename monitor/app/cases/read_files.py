"""Reads the files of a certificate, and says which lines cannot be read.

Rules:
1. A row of readings that cannot be read never improves the verdict: the time from its probe's reading before it to the one
   after is not proven. For that its time and its probe must be known.
2. If they are not known, or an entry of the work log cannot be read, the line might mean anything. Then the files are refused
   with all such lines, unless the command leaves them out, which page 1 of the certificate then says.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from monitor.app.cases.case_columns import Columns, file_columns
from monitor.app.cases.clashes import SHOWN
from monitor.app.console.refusals import ended
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError
from monitor.model.thresholds import ProbeThresholds
from monitor.model.work import Work
from monitor.model.work_kinds import declared
from monitor.recordings import RECORDING, Problem, ReadingRow, SheetForms, lines_of, quoted, read_readings, read_work


@dataclass(frozen=True, slots=True)
class Files:
    """The files to read.

    Attributes:
        readings, work: The CSV files.
        pile: Id of the pile.
        by_hand: Whether a person read a thermometer.
        hand_series: Series whose rows all name a reader.
        forms: How the files are written.
        leave_out: Whether to leave out lines that might mean anything.
    """

    readings: Sequence[Path]
    work: Sequence[Path]
    pile: str
    by_hand: bool = False
    hand_series: frozenset[str] = frozenset()
    forms: SheetForms = RECORDING
    leave_out: bool = False


@dataclass(slots=True)
class Read:
    """The content of the files.

    Attributes:
        columns: Temperatures by probe.
        works: The work log.
        by_hand: Series whose rows all name a reader.
        partly_by_hand: Series of which only some rows name a reader; they count as probes.
        conflicts: (probe, time) of each reading that gave way to another value of the same instant.
        clashes: For the first of those instants, every row with another value, as it stands.
        rows, entries: Unreadable lines of the readings and of the work log.
        more: How many more problems there were than are kept.
    """

    columns: dict[str, Columns]
    works: list[Work]
    by_hand: frozenset[str] = frozenset()
    partly_by_hand: frozenset[str] = frozenset()
    conflicts: list[tuple[str, int]] = field(default_factory=list)
    clashes: list[list[str]] = field(default_factory=list)
    rows: list[Problem] = field(default_factory=list)
    entries: list[Problem] = field(default_factory=list)
    more: int = 0

    def problems(self) -> list[Problem]:
        """Return every line that cannot be read."""
        return [*self.rows, *self.entries]

    def unread(self, probe: str) -> tuple[int, ...]:
        """Return the times (UTC ms, in order) of a probe's rows that cannot be read."""
        return tuple(
            sorted({one.time for one in self.rows if one.time is not None and one.probe == probe and one.of_heat})
        )

    def doubtful(self, chosen: Sequence[str]) -> list[Problem]:
        """Return the lines that might mean anything for the chosen probes."""

        def known(one: Problem) -> bool:
            if not one.of_heat:
                return True
            return one.probe in self.columns and (one.probe not in chosen or one.time is not None)

        return [*(one for one in self.rows if not known(one)), *self.entries]

    def refuse_doubtful(self, chosen: Sequence[str]) -> None:
        """Refuse files with lines that might mean anything.

        Raises:
            MisuseError: There are such lines; the message lists them and then every other unreadable line, so that a file is
                mended once.
        """
        doubtful = self.doubtful(chosen)
        count = len(doubtful) + self.more
        if not count:
            return
        lines = "1 line that cannot be read" if count == 1 else f"{count:,} lines that cannot be read"
        where = "\n".join(f"  {ended(str(one))}" for one in doubtful)
        more = f"\n  And {self.more:,} more." if self.more else ""
        rest = "".join(f"\n  {ended(str(one))}" for one in self.problems() if one not in doubtful)
        beside = f"\nBeside them, what cannot be read and is known to say less:{rest}" if rest else ""
        raise MisuseError(
            f"There {'is' if count == 1 else 'are'} {lines} and might say anything of this batch:\n{where}{more}{beside}\n"
            "Mend them; or leave them out with --leave-out, which page 1 of the certificate then says."
        )


def read_files(files: Files, configuration: Configuration | None) -> Read:
    """Return the content of the files.

    Raises:
        MisuseError: They hold no readings, or are no recordings.
        UnavailableError: A file cannot be read.
    """
    read = Read({}, [])
    rows: list[ReadingRow] = []
    for path in files.readings:
        found, faults = read_readings(path, forms=files.forms)
        rows += found
        read.rows += faults
        read.more += len(faults) - len(list(faults))
    for path in files.work:
        lines: list[int] = []
        logged, faults = read_work(path, forms=files.forms, lines=lines)
        # An entry without its time of entry counts as entered when the work was done. `Heap` and `heap` are the same pile.
        read.works += [_as_meant(work, files.pile) for work in logged if not _goes_nowhere(work)]
        read.entries += faults
        read.entries += [
            Problem(
                str(path),
                number,
                "the column `to` is empty; it says where material went that was moved, split or merged",
            )
            for number, work in zip(lines, logged, strict=True)
            if _goes_nowhere(work)
        ]
        read.more += len(faults) - len(list(faults))
    thresholds = configuration.settings.probe_thresholds if configuration is not None else ProbeThresholds()
    read.columns, read.conflicts = file_columns(rows, thresholds)
    read.clashes = _clashes(files, read.conflicts)
    said_by = {row.probe for row in rows if row.told is not None and row.told.by}
    nobody = {row.probe for row in rows if row.told is None or not row.told.by}
    read.by_hand, read.partly_by_hand = frozenset(said_by - nobody), frozenset(said_by & nobody)
    if not read.columns and read.problems():
        raise MisuseError(ended(f"Nothing can be read: {read.problems()[0]}"))
    return read


def _clashes(files: Files, conflicts: Sequence[tuple[str, int]]) -> list[list[str]]:
    """Return, for the first instants with several values, each row as it stands, with its file and line."""
    wanted = list(dict.fromkeys(conflicts))[:SHOWN]
    rows: dict[tuple[str, int], dict[str, str]] = {key: {} for key in wanted}
    for path in files.readings if wanted else ():
        for row in lines_of(path, rows, files.forms):
            said = quoted(f"{row.value} {row.unit}")
            rows[row.probe, row.time].setdefault(said, f"{path.name} line {row.line} ({said})")
    return [[*rows[key].values()] for key in wanted]


def _as_meant(work: Work, pile: str) -> Work:
    """Return an entry with the pile's own spelling and a time of entry."""
    place, to = (pile if name.casefold() == pile.casefold() else name for name in (work.place, work.to))
    return replace(work, place=place, to=to, entered=work.time if work.entered is None else work.entered)


def _goes_nowhere(work: Work) -> bool:
    return declared(work.kind).goes_somewhere and not work.to
