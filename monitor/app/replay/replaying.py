"""Runs recordings through the engine in memory; nothing is written to disk.

A recording of events is fed unchanged (its own settings in force, thresholds changed by `--set`). CSV files are planned into
events under the settings of the configuration.
"""

import json
from base64 import b64decode
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from monitor.app.entries.import_questions import remarks_on_work
from monitor.app.replay.replay_settings import with_settings
from monitor.configuration import Configuration, canonical_settings
from monitor.engine import Engine, is_core
from monitor.engine.stretch import Commits, Piece, replay_pieces, start_of
from monitor.model.effects import Effect
from monitor.model.errors import MisuseError
from monitor.model.events import FURTHER, Event, EventKind
from monitor.model.readings import is_hand
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS, show_time
from monitor.model.work import Work
from monitor.recordings import (
    RECORDING,
    Kind,
    MemoryHistory,
    Problems,
    ReadingColumns,
    SetAsides,
    SheetForms,
    joined,
    plan_pieces,
    read_events,
    read_work,
    sniff,
    stream_columns,
)

LONGEST_YEARS = 40
"""The most years that a recording may span (our choice)."""

Progress = Callable[[int, int], None]
"""Called now and then with (events done, events in all)."""


@dataclass(slots=True)
class Recording:
    """A recording to replay.

    Attributes:
        pieces: Events and columns of readings, in order.
        state: The engine's state at its beginning, if the beginning is no longer kept.
        seals: The states from which the record goes on after its seals, by their instant (UTC ms).
        mark: Up to when deadlines had been served when the record was written, UTC ms, or None.
        problems: Sentences about rows that could not be read.
    """

    pieces: list[Piece] = field(default_factory=list)
    state: bytes | None = None
    seals: dict[int, bytes] = field(default_factory=dict)
    mark: int | None = None
    problems: list[str] = field(default_factory=list)

    @property
    def events(self) -> list[Event]:
        """The events among the pieces."""
        return [piece for piece in self.pieces if isinstance(piece, Event)]


def read_recording(
    files: Sequence[Path],
    work_files: Sequence[Path],
    settings: Callable[[], Configuration],
    forms: SheetForms = RECORDING,
) -> Recording:
    """Read and return a recording: one file of events, or CSV files of readings with any work logs.

    Args:
        files: The recordings.
        work_files: Work logs in CSV.
        settings: Loads the configuration; called only if the recording has no settings of its own.
        forms: How the CSV files are written; times without a zone are in the site's.

    Raises:
        MisuseError: The files do not go together, or are no recordings.
    """
    problems = Problems()
    kinds = [sniff(path, problems, forms) for path in files]
    if Kind.EVENTS in kinds:
        if len(files) > 1 or work_files:
            raise MisuseError(f"{files[kinds.index(Kind.EVENTS)]} is a record of events, which is replayed alone.")
        return _of_one_life(_of_events(files[0]))
    readings, work = [], []
    for path, kind in zip(files, kinds, strict=True):
        if kind is Kind.WORK:
            work.append(path)
        elif kind is Kind.READINGS:
            readings.append(path)
        elif kind is Kind.LABELS:
            raise MisuseError(f"{path} holds labels, which are for `heaptender tune`; a replay takes readings.")
        else:
            raise MisuseError(f"{path} is no recording, nor was it made by `export events`: {_why(problems, path)}.")
    for path in work_files:
        if sniff(path, problems, forms) is not Kind.WORK:
            raise MisuseError(f"{path} is no work file: {_why(problems, path)}.")
    return _of_one_life(_of_tables(readings, [*work, *work_files], settings, forms))


def _why(problems: Problems, path: Path) -> str:
    return next((one.text for one in problems if one.file == str(path)), "it names other columns")


def _of_one_life(recording: Recording) -> Recording:
    """Refuse a recording that spans more years than any yard lives: a mistyped date would make millions of days."""
    start, end = span_of(recording)
    years = (end - start) // (365 * DAY_MS)
    if years > LONGEST_YEARS:
        raise MisuseError(
            f"The recording goes from {show_time(start)[:10]} to {show_time(end)[:10]}, which is {years} years; one date in it "
            f"is wrong. At most {LONGEST_YEARS} years are replayed."
        )
    return recording


def stored_recording(configuration: Configuration) -> Recording:
    """Return the yard's own record, also while the daemon runs; the same as `export events` would write.

    Raises:
        UnavailableError: There is no record, or it is damaged.
    """
    from monitor.journal import FOREVER, open_reader  # noqa: PLC0415 (files need no journal)
    from monitor.journal.columns import read_pieces  # noqa: PLC0415

    with open_reader(configuration.data) as store, store.view():
        checkpoint = store.checkpoint()
        pieces = read_pieces(store, -FOREVER if checkpoint is None else checkpoint.at)
        state = None if checkpoint is None else checkpoint.state
        recording = Recording(pieces, state, store.seals(), store.mark().latest())
    imported = sum(len(one.payload.get("rows", ())) for one in recording.events if one.kind is EventKind.IMPORTED)
    recording.problems += imported_note(imported, "replay")
    return recording


def imported_note(count: int, command: str) -> list[str]:
    """Return a sentence about imported readings, which cause no message in a record; [] if there are none."""
    if not count:
        return []
    said = f"{count} readings of the record were imported, and what is imported raises no message"
    return [f"{said}; to try settings on them, name their file to {command}."]


def _of_events(path: Path) -> Recording:
    record, problems = read_events(path)
    recording = Recording(list(record.events), problems=list(problems.sentences()))
    if record.checkpoint is not None:
        recording.state = _state(record.checkpoint.state, path)
    recording.seals = {seal.at: _state(seal.state, path) for seal in record.seals}
    if record.mark is not None:
        recording.mark = record.mark.at
    return recording


def _state(text: str, path: Path) -> bytes:
    try:
        state = b64decode(text, validate=True)
        Engine.restore(state)
    except ValueError as fault:
        first = str(fault).splitlines()[0]
        raise MisuseError(
            f"{path} holds a state of the engine that cannot be used ({first}); export it again."
        ) from fault
    return state


def _of_tables(
    readings: Sequence[Path], work: Sequence[Path], settings: Callable[[], Configuration], forms: SheetForms
) -> Recording:
    sentences: list[str] = []
    configuration = settings()
    forms = forms.in_zone(configuration.settings.site.time_zone)
    columns = joined(_columns(readings, sentences, forms))
    entries = []
    where: dict[Work, str] = {}
    for path in work:
        lines: list[int] = []
        logged, problems = read_work(path, forms=forms, lines=lines)
        entries += logged
        where |= {one: f"{path}, line {line}" for line, one in zip(lines, logged, strict=True)}
        sentences += problems.sentences()
    told = remarks_on_work(configuration.settings, entries, _firsts(columns, configuration.settings))
    sentences += [f"{where[one]}: {remark}" for one, remark in told]
    aside = SetAsides()
    ahead_ms = configuration.settings.probe_thresholds.ahead_ms
    planned = plan_pieces(columns, entries, aside, ahead_ms)
    if not planned:
        return Recording(problems=[*sentences, "The recording holds nothing that could be replayed."])
    sentences += _strangers(planned, configuration)
    payload = {"settings": json.loads(canonical_settings(configuration.settings))}
    first = Event(start_of(planned[0]) - 1, EventKind.SETTINGS, payload)
    return Recording([first, *planned], problems=sentences)


def _firsts(columns: ReadingColumns, settings: Settings) -> dict[str, int]:
    """Return the time of each pile's first reading by a core probe, UTC ms."""
    found: dict[str, int] = {}
    for number, name in enumerate(columns.names):
        probe = settings.probes.get(name)
        if probe is not None and is_core(probe):
            first = int(columns.time[columns.probe == number].min())
            found[probe.place] = min(first, found.get(probe.place, first))
    return found


def _strangers(pieces: Sequence[Piece], configuration: Configuration) -> list[str]:
    """Return a sentence about probes that the configuration does not know; their readings have no effect."""
    named = {name for piece in pieces if isinstance(piece, Commits) for name in piece.names}
    named |= {row[1] for piece in pieces if isinstance(piece, Event) for row in piece.payload.get(FURTHER, ())}
    strangers = sorted(name for name in named - configuration.settings.probes.keys() if not is_hand(name))
    if not strangers:
        return []
    some = ", ".join(strangers[:5]) + (f" and {len(strangers) - 5} more" if len(strangers) > 5 else "")
    probes, they = ("probe", "it") if len(strangers) == 1 else ("probes", "they")
    return [
        f"{configuration.source} knows no {probes} named {some}: what {they} said does nothing. Is it the right --config?"
    ]


def _columns(files: Sequence[Path], sentences: list[str], forms: SheetForms) -> Iterator[ReadingColumns]:
    """Yield the readings of files; after each file, add what was wrong with it to the sentences."""
    for path in files:
        problems = Problems()
        yield from stream_columns(path, problems, forms)
        sentences += problems.sentences()


def span_of(recording: Recording) -> tuple[int, int]:
    """Return the first and the last instant of a recording, UTC ms, its mark included; (0, 0) if it is empty."""
    own = [piece for piece in recording.pieces if not isinstance(piece, Event) or piece.kind is not EventKind.SETTINGS]
    if not own:
        return 0, 0
    last = own[-1]
    end = int(last.at[-1]) if isinstance(last, Commits) else last.at
    return start_of(own[0]), max(end, recording.mark if recording.mark is not None else end)


def replay(
    recording: Recording,
    overrides: Sequence[str] = (),
    until: int | None = None,
    progress: Progress | None = None,
    *,
    sealed: bool | None = None,
) -> list[Effect]:
    """Run a recording through a fresh engine and return its effects.

    Args:
        recording: The recording.
        overrides: `KEY=VALUE` texts that change thresholds.
        until: Where to end, UTC ms; else at the recording's mark, else at its last event.
        progress: Called with how far the run is.
        sealed: Whether to go on at each seal from the state from which the yard went on; otherwise the whole record runs under
            today's meaning, as it must to try settings. None: yes if there are no overrides.
    """
    engine = Engine() if recording.state is None else Engine.restore(recording.state)
    pieces = with_settings(recording.pieces, overrides, recording.state)
    seals = recording.seals if (sealed if sealed is not None else not overrides) else None
    if seals is None:
        pieces = [one for one in pieces if isinstance(one, Commits) or one.kind is not EventKind.SEALED]
    end = until if until is not None else recording.mark
    total = sum(len(piece) if isinstance(piece, Commits) else 1 for piece in pieces)
    if all(isinstance(piece, Event) for piece in pieces):
        effects = _one_by_one(engine, pieces, end, until, seals or {}, progress)
    else:
        told = None if progress is None else partial(_show, progress, total)
        effects = replay_pieces(engine, pieces, end, told, seals=seals)
    if progress is not None:
        progress(total, total)
    return effects


def _show(progress: Progress, total: int, done: int) -> None:
    progress(done, total)


def _one_by_one(
    engine: Engine,
    events: Iterable[Piece],
    end: int | None,
    until: int | None,
    seals: Mapping[int, bytes],
    progress: Progress | None,
) -> list[Effect]:
    """Feed a record of events up to `until`, and serve deadlines up to `end`."""
    history = MemoryHistory()
    effects: list[Effect] = []
    own = [event for event in events if isinstance(event, Event)]
    for number, event in enumerate(own):
        if until is not None and event.at > until:
            break
        if event.kind in (EventKind.READINGS, EventKind.IMPORTED):
            history.take(event.payload)
        if event.at in seals and event.kind is EventKind.SEALED:
            engine = Engine.restore(seals[event.at])
        effects += engine.feed(event, history)
        engine.take_verdicts()
        if progress is not None and number % 500 == 0:
            progress(number, len(own))
    return effects + (engine.advance(end) if end is not None else [])
