"""Imports recordings: checks all rows before anything is taken in, then feeds them in portions.

Rules: a probe that is not configured refuses the whole import, since its rows would be lost silently. A row that cannot be
right (a unit that its probe never has, a time before 2000 or ahead) is left out, counted and reported; the others are
taken in. Of two rows with the same key the first stays, in the order of files and lines. Work that was imported or logged
before, word for word, is not entered again, even if it was taken back meanwhile.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from itertools import islice
from pathlib import Path
from typing import Any, TypeVar

from monitor.app.console.refusals import ended, near, refusal
from monitor.app.entries.import_questions import questions_of_files
from monitor.app.entries.naming import place_meant, probe_meant
from monitor.app.entries.work_log import work_log
from monitor.app.loop.asking import asking
from monitor.codec import units_of
from monitor.configuration import Configuration, UnfitError, length_milli_m
from monitor.journal import journal_path, open_reader
from monitor.model.amounts import known_amount
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.model.readings import Reading, is_hand
from monitor.model.settings import Settings
from monitor.model.times import YEAR_2000_MS, show_time
from monitor.model.units import UNITS_OF, Quantity
from monitor.model.work import COLUMNS, Work
from monitor.model.work_entry import figures_understood
from monitor.recordings import (
    RECORDING,
    Kind,
    Problems,
    ReadingRow,
    SheetForms,
    Told,
    lines_of,
    read_work,
    sniff,
    stream_readings,
    work_payload,
)

HELPING = 5_000
"""Readings in one event: many enough for a quick journal, few enough that other requests are answered in between and that a
slow computer has stored them long before the wait for an answer ends."""
WORK_HELPING = 500
SHOWN = 10

_T = TypeVar("_T")
_Row = tuple[int, str, int, str, Told | None]


@dataclass(slots=True)
class Brought:
    """The rows of files that can be taken in, and what was wrong with the rest."""

    rows: list[_Row] = field(default_factory=list)
    work: list[Work] = field(default_factory=list)
    where: dict[Work | Reading, str] = field(default_factory=dict)
    """File and line of each piece of work."""
    hands: dict[Reading, Path] = field(default_factory=dict)
    """The file of each reading by hand."""
    sentences: list[str] = field(default_factory=list)
    wrong: int = 0

    def is_wrong(self, sentences: Iterable[str], count: int) -> None:
        """Count wrong rows, and keep the first sentences about them."""
        self.wrong += count
        self.sentences += islice(sentences, max(0, SHOWN - len(self.sentences)))


@dataclass(slots=True)
class Imported:
    """The outcome of an import: readings that were new, there already, or there with another value; work likewise."""

    new: int = 0
    repeated: int = 0
    conflicts: int = 0
    work: int = 0
    work_repeated: int = 0


def read_files(
    configuration: Configuration,
    files: Sequence[Path],
    work_files: Sequence[Path],
    now: int,
    show: Callable[[int], None],
    forms: SheetForms = RECORDING,
) -> Brought:
    """Read and check recordings, and return their rows.

    Args:
        configuration: The yard's configuration.
        files: Recordings of readings or work.
        work_files: Work logs.
        now: Now, UTC ms; later rows are wrong.
        show: Called with how many readings were read so far.
        forms: How the CSV files are written; times without a zone are in the site's.

    Raises:
        MisuseError: A file is no recording, or names a probe or a place that is not configured.
        UnavailableError: A file cannot be read.
    """
    brought, forms = Brought(), forms.in_zone(configuration.settings.site.time_zone)
    unknown: dict[str, Path] = {}
    for path in (*files, *work_files):
        kind = sniff(path, refused := Problems(), forms)
        if kind is Kind.WORK:
            lines: list[int] = []
            logged, problems = read_work(path, forms=forms, lines=lines)
            for line, one in zip(lines, logged, strict=True):
                meant = work_meant(configuration.settings, one, f"{path}, line {line}")
                brought.work.append(meant)
                brought.where.setdefault(meant, f"{path}, line {line}")
        elif kind is Kind.READINGS and path not in work_files:
            problems = Problems()
            rows = _fitting(configuration.settings, path, stream_readings(path, problems, forms), now, brought, unknown)
            for number, row in enumerate(rows):
                brought.rows.append(row)
                if is_hand(row[1]):
                    brought.hands.setdefault(Reading(*row[:4]), path)
                if number % 10_000 == 0:
                    show(len(brought.rows))
        else:
            wanted = "a work log" if path in work_files else "a recording of readings or work"
            why = next(iter(refused.sentences()), "that would be a CSV file whose first line names the columns")
            raise MisuseError(ended(f"{path} is not {wanted}: {why.removeprefix(f'{path} ')}"))
        brought.is_wrong(problems.sentences(), len(problems))
    _refuse_unknown(configuration, unknown)
    for one in brought.work:
        wrong = refusal(EventKind.WORK, work_payload(one), configuration.settings)
        if wrong:
            raise MisuseError(
                f"{brought.where[one]}, {one.kind.value} of {show_time(one.time)}: {ended(wrong)} Nothing was taken in."
            )
    brought.rows.sort(key=lambda row: row[:2])
    brought.work.sort(key=lambda one: one.time)
    return brought


def asked(configuration: Configuration, brought: Brought, now: int, forms: SheetForms = RECORDING) -> list[str]:
    """Return the questions about the files' work and readings by hand, each with its file and its line.

    Args:
        configuration: The yard's configuration.
        brought: The files' rows.
        now: Now, UTC ms.
        forms: How the CSV files are written.
    """
    rows = (row[:4] for row in brought.rows)
    found = questions_of_files(configuration, new_work(configuration, brought.work), rows, list(brought.hands), now)
    doubted = {one for one, _ in found if isinstance(one, Reading)}
    where = brought.where | _lines_of_hands(brought, doubted, forms.in_zone(configuration.settings.site.time_zone))
    return [f"{where[one]}: {question}" for one, question in found]


def _lines_of_hands(brought: Brought, doubted: set[Reading], forms: SheetForms) -> dict[Work | Reading, str]:
    """Return file and line of readings by hand; the files are read once more for them, row by row."""
    found: dict[Work | Reading, str] = {one: str(brought.hands[one]) for one in doubted}
    for path in {brought.hands[one] for one in doubted}:
        named = {(one.probe, one.time): one for one in doubted if brought.hands[one] == path}
        lines = {named[row.probe, row.time]: row.line for row in reversed([*lines_of(path, named, forms)])}
        found |= {one: f"{path}, line {line}" for one, line in lines.items()}
    return found


def take_in(configuration: Configuration, brought: Brought, show: Callable[[int, int], None]) -> Imported:
    """Have the rows taken in, and return the outcome.

    Args:
        configuration: The yard's configuration.
        brought: The files' rows.
        show: Called with how many readings are done, and of how many.

    Raises:
        MisuseError: The daemon refuses them.
        UnavailableError: The disk fails, or the daemon does not answer; rows taken in so far stay, and a second try skips them.
    """
    found = Imported()
    new = new_work(configuration, brought.work)
    found.work, found.work_repeated = len(new), len(brought.work) - len(new)
    done, total = 0, len(brought.rows)
    with asking(configuration) as session:
        for entries in _helpings(new, WORK_HELPING):
            session.ask(EventKind.IMPORTED, {"work": [work_payload(one) for one in entries]})
        for told, rows in _by_who(brought.rows):
            taken = session.ask(EventKind.IMPORTED, {"rows": [list(row[:4]) for row in rows], **told})
            found.new += taken.new
            found.repeated += taken.repeated
            found.conflicts += taken.conflicts
            done += len(rows)
            show(done, total)
    return found


def work_meant(settings: Settings, work: Work, where: str) -> Work:
    """Return a row of a work log with ids for its places and probe, and a known unit for its amount.

    Args:
        settings: Places, probes and the units of the yard.
        work: The row as it was read.
        where: File and line, for the sentence of an error.

    Raises:
        MisuseError: A name or a unit has two meanings, or the unit is unknown.
    """
    try:
        return replace(
            figures_understood(settings, work),
            place=place_meant(settings, work.place),
            to=place_meant(settings, work.to) if work.to else "",
            probe=probe_meant(settings, work.probe) if work.probe else "",
        )
    except (MisuseError, ValueError) as fault:
        raise MisuseError(f"{where}: {ended(str(fault))} Nothing was taken in.") from fault


def _by_who(rows: Sequence[_Row]) -> Iterator[tuple[dict[str, Any], Sequence[_Row]]]:
    """Yield portions of rows, each with the fields that they share: reader, thermometer and depth of readings by hand."""
    by_told: dict[Told | None, list[_Row]] = {}
    for row in rows:
        by_told.setdefault(row[4], []).append(row)
    for told, own in by_told.items():
        said: dict[str, Any] = {}
        if told is not None:
            said = {name: text for name, text in (("by", told.by), ("with", told.thermometer)) if text}
            with suppress(UnfitError):
                said |= {"depth": length_milli_m(told.depth)} if told.depth else {}
        for helping in _helpings(own, HELPING):
            yield said, helping


def _fitting(
    settings: Settings, path: Path, rows: Iterator[ReadingRow], now: int, brought: Brought, unknown: dict[str, Path]
) -> Iterator[_Row]:  # fmt: skip
    """Yield the rows that can be right; count the others, and note unknown probes."""
    ahead = now + settings.probe_thresholds.ahead_ms
    known: dict[str, tuple[Quantity, tuple[str, ...]] | None] = {}
    for row in rows:
        probe = row.probe
        if probe not in known:
            known[probe] = _measures(settings, probe)
        measures = known[probe]
        if measures is None:
            unknown.setdefault(probe, path)
            continue
        quantity, allowed = measures
        if row.quantity is not quantity:
            brought.is_wrong([f"{path}: {probe} measures {quantity}, not {row.quantity}"], 1)
        elif row.unit not in allowed:
            brought.is_wrong([f"{path}: {probe} sends {' or '.join(allowed)}, not {row.unit}"], 1)
        elif row.time < YEAR_2000_MS:
            brought.is_wrong([f"{path}: {probe} at {show_time(row.time)} is before the year 2000"], 1)
        elif row.time > ahead:
            brought.is_wrong([f"{path}: {probe} at {show_time(row.time)} has not come yet"], 1)
        else:
            yield row.time, probe, row.micro, row.unit, row.told if is_hand(probe) else None


def _measures(settings: Settings, probe: str) -> tuple[Quantity, tuple[str, ...]] | None:
    """Return the quantity of a series and its allowed units; None if there is no such probe."""
    if refusal(EventKind.IMPORTED, {"rows": [[0, probe, 0, ""]]}, settings):
        return None
    if is_hand(probe):
        return Quantity.TEMPERATURE, UNITS_OF[Quantity.TEMPERATURE]
    return settings.probes[probe].quantity, units_of(settings.probes[probe])


def _refuse_unknown(configuration: Configuration, unknown: dict[str, Path]) -> None:
    if not unknown:
        return
    name, path = next(iter(unknown.items()))
    others = f" (and {len(unknown) - 1} more)" if len(unknown) > 1 else ""
    meant = near(name, configuration.settings.probes)
    raise MisuseError(
        f'{path} names a probe "{name}"{others} that is not in {configuration.source}; '
        f"{ended(meant)} Nothing was taken in."
    )


def new_work(configuration: Configuration, work: list[Work]) -> list[Work]:
    """Return the work that the record does not have yet, each piece once."""
    known: set[tuple[object, ...]] = set()
    if work and journal_path(configuration.data).exists():
        with open_reader(configuration.data) as store:
            known = {_key(one.logged) for one in work_log(store)}
    found = []
    for one in work:
        if _key(one) not in known:
            known.add(_key(one))
            found.append(one)
    return found


def _key(work: Work) -> tuple[object, ...]:
    # Amounts are compared by meaning: `5lb` equals 5 with the measure lb.
    amount = known_amount(work.amount, work.measure, work.unit)
    much = None if amount is None else (amount.number, amount.unit or amount.measure)
    # A photo makes no other entry of it: files of before have no column for one.
    left_out = ("entered", "amount", "measure", "unit", "photo")
    return (much, *(getattr(work, name) for name in COLUMNS if name not in left_out))


def _helpings(items: Sequence[_T], size: int) -> Iterator[Sequence[_T]]:
    for begin in range(0, len(items), size):
        yield items[begin : begin + size]
