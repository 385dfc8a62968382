"""Runs recordings through the engine in memory; writes nothing to disk.

A recording of events is fed as it is (its own settings in force, thresholds changed by `--set`); CSV files are planned into
events under the settings of the configuration.
"""

import json
from base64 import b64decode
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from monitor.configuration import Configuration, canonical_settings, set_key, settings_of
from monitor.engine import Engine
from monitor.model.effects import Effect
from monitor.model.errors import MisuseError
from monitor.model.events import Event, EventKind
from monitor.model.readings import Reading
from monitor.recordings import (
    Kind,
    MemoryHistory,
    Problems,
    SetAsides,
    plan_commits,
    read_events,
    read_readings,
    read_work,
    sniff,
)

Progress = Callable[[int, int], None]
"""Told (events done, events in all) now and then."""


@dataclass(slots=True)
class Recording:
    """What is to be replayed: events in order, and where they end."""

    events: list[Event] = field(default_factory=list)
    state: bytes | None = None
    mark: int | None = None
    problems: list[str] = field(default_factory=list)


def read_recording(
    files: Sequence[Path], work_files: Sequence[Path], settings: Callable[[], Configuration]
) -> Recording:
    """Read recordings of one kind: one file of events, or CSV files of readings with any of work.

    Args:
        files: The recordings.
        work_files: Work logs in CSV.
        settings: Loads the configuration; asked only where the recording has no settings of its own.

    Raises:
        MisuseError: The files do not go together, or are no recordings.
    """
    problems = Problems()
    kinds = [sniff(path, problems) for path in files]
    if Kind.EVENTS in kinds:
        if len(files) > 1 or work_files:
            raise MisuseError(f"{files[kinds.index(Kind.EVENTS)]} is a record of events, which is replayed alone.")
        return _of_events(files[0])
    readings, work = [], []
    for path, kind in zip(files, kinds, strict=True):
        if kind is Kind.WORK:
            work.append(path)
        elif kind is Kind.READINGS:
            readings.append(path)
        else:
            right = "a CSV file with the columns time,probe,quantity,value,unit or a file made by `export events`"
            raise MisuseError(f"{path} is no recording; {right} would be one.")
    return _of_tables(readings, [*work, *work_files], settings)


def _of_events(path: Path) -> Recording:
    record, problems = read_events(path)
    recording = Recording(record.events, None, None, list(problems.sentences()))
    if record.checkpoint is not None:
        recording.state = b64decode(record.checkpoint.state)
    if record.mark is not None:
        recording.mark = record.mark.at
    return recording


def _of_tables(readings: Sequence[Path], work: Sequence[Path], settings: Callable[[], Configuration]) -> Recording:
    rows, entries, sentences = [], [], []
    for path in readings:
        found, problems = read_readings(path)
        rows += found
        sentences += problems.sentences()
    for path in work:
        logged, problems = read_work(path)
        entries += logged
        sentences += problems.sentences()
    configuration = settings()
    aside = SetAsides()
    ahead_ms = configuration.settings.probe_thresholds.ahead_ms
    planned = list(plan_commits(rows, entries, aside, ahead_ms))
    if not planned:
        return Recording(problems=[*sentences, "The recording holds nothing that could be replayed."])
    payload = {"settings": json.loads(canonical_settings(configuration.settings))}
    first = Event(planned[0].at - 1, EventKind.SETTINGS, payload)
    return Recording([first, *planned], problems=sentences)


def with_settings(events: Iterable[Event], overrides: Sequence[str]) -> Iterator[Event]:
    """Yield the events with thresholds changed in every settings event.

    Raises:
        ConfigurationError: An override names no threshold, or a wrong value.
    """
    for event in events:
        if event.kind is not EventKind.SETTINGS or not overrides:
            yield event
            continue
        settings = settings_of(json.dumps(event.payload["settings"]))
        for text in overrides:
            settings = set_key(settings, text)
        yield Event(event.at, event.kind, {"settings": json.loads(canonical_settings(settings))})


def replay(
    recording: Recording, overrides: Sequence[str] = (), until: int | None = None, progress: Progress | None = None
) -> list[Effect]:
    """Run a recording through a fresh engine and return its effects.

    Args:
        recording: What to run.
        overrides: `KEY=VALUE` of thresholds.
        until: Where to end, UTC ms, else at the recording's mark, else at its last event.
        progress: Told how far it is.
    """
    engine = Engine() if recording.state is None else Engine.restore(recording.state)
    history = MemoryHistory()
    effects: list[Effect] = []
    total = len(recording.events)
    for number, event in enumerate(with_settings(recording.events, overrides)):
        if until is not None and event.at > until:
            break
        rows = event.payload.get("rows") if event.kind in (EventKind.READINGS, EventKind.IMPORTED) else None
        if rows:
            history.extend(Reading(*row) for row in rows)
        effects += engine.feed(event, history)
        engine.take_verdicts()
        if progress is not None and number % 500 == 0:
            progress(number, total)
    end = until if until is not None else recording.mark
    if end is not None:
        effects += engine.advance(end)
    if progress is not None:
        progress(total, total)
    return effects
