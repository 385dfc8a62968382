"""Events as JSON lines: the content of a journal, for machines and people.

Forms of a line (keys in this order, payloads with sorted keys, times of a line RFC 3339, those in a payload UTC ms):
- an event: `{"at":"2026-03-01T09:00:00.000Z","kind":"readings","payload":{...}}`;
- the checkpoint, only as the first line, if the beginning is no longer kept: `{"checkpoint":{"at":...,"head":...,
  "state":...}}`, with the head of the hash chain and the engine's snapshot (base64) after the event at `at`;
- a seal, right after its `sealed` event: `{"seal":{"at":...,"state":...}}`, with the state (base64) from which the
  record goes on there under another meaning of the engine;
- the mark, at the end: `{"mark":"2026-..."}`, the watermark up to which deadlines had been served.
"""

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NoReturn

from monitor.model.event_shapes import wrong_event
from monitor.model.events import Event, EventKind
from monitor.model.times import parse_time, show_time
from monitor.recordings.canonical_json import compact
from monitor.recordings.file_problems import Problems, quoted
from monitor.recordings.text_lines import numbered_lines


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """The beginning of a record whose earlier part is no longer kept; `state` is base64, `head` hex."""

    at: int
    head: str
    state: str


@dataclass(frozen=True, slots=True)
class Seal:
    """The state (base64) from which a record goes on after the `sealed` event at `at`."""

    at: int
    state: str


@dataclass(frozen=True, slots=True)
class Mark:
    """The watermark, UTC ms: deadlines up to it had been served when the record was written."""

    at: int


Line = Event | Checkpoint | Seal | Mark


@dataclass(slots=True)
class EventRecord:
    """A whole file of events."""

    events: list[Event] = field(default_factory=list)
    checkpoint: Checkpoint | None = None
    seals: list[Seal] = field(default_factory=list)
    mark: Mark | None = None


def event_line(event: Event) -> str:
    """Return an event as its line, without the line end."""
    at, payload = show_time(event.at), compact(event.payload)
    return f'{{"at":"{at}","kind":"{event.kind.value}","payload":{payload}}}'


def mark_line(at: int) -> str:
    """Return the line that holds the watermark (UTC ms), without the line end."""
    return f'{{"mark":"{show_time(at)}"}}'


def checkpoint_line(checkpoint: Checkpoint) -> str:
    """Return the line that replaces a beginning no longer kept, without the line end."""
    at = show_time(checkpoint.at)
    return compact({"checkpoint": {"at": at, "head": checkpoint.head, "state": checkpoint.state}}, ordered=True)


def seal_line(seal: Seal) -> str:
    """Return the line that follows a `sealed` event, without the line end."""
    return compact({"seal": {"at": show_time(seal.at), "state": seal.state}}, ordered=True)


def parse_line(text: str) -> Line:
    """Return the content of a line of an events file.

    Raises:
        ValueError: The line has none of the forms; the message says what would be right.
    """
    try:
        found = json.loads(text, parse_constant=_no_constant)
    except (ValueError, RecursionError) as fault:
        raise ValueError(f"not JSON ({_brief(fault)}); each line is one event") from None
    match found:
        case {"at": str(at), "kind": str(kind), "payload": dict(payload), **rest} if not rest:
            return Event(parse_time(at), _kind(kind), payload)
        case {"mark": str(at), **rest} if not rest:
            return Mark(parse_time(at))
        case {"checkpoint": {"at": str(at), "head": str(head), "state": str(state)}, **rest} if not rest:
            return Checkpoint(parse_time(at), head, state)
        case {"seal": {"at": str(at), "state": str(state)}, **rest} if not rest:
            return Seal(parse_time(at), state)
    raise ValueError(f'{quoted(text)} is no event; write {{"at":"...","kind":"...","payload":{{...}}}}')


def stream_events(path: Path, problems: Problems) -> Iterator[Line]:
    """Yield the contents of a file's lines, in order; a bad line is a problem and left out.

    Raises:
        UnavailableError: The file cannot be read.
        MisuseError: A line is bad and the problems are strict.
    """
    file, last, is_first, is_over = str(path), None, True, False
    for number, text in numbered_lines(path, problems):
        if not text.strip():
            continue
        try:
            if is_over:
                raise ValueError("a line follows the mark; the mark is the last line")
            found = parse_line(text)
            if isinstance(found, Event) and (wrong := wrong_event(found.kind, found.payload)):
                raise ValueError(f"the event is malformed: {wrong}")
            if isinstance(found, Checkpoint) and not is_first:
                raise ValueError("a checkpoint stands after the beginning; it is the first line or absent")
            if last is not None and (found.at < last or (found.at == last and isinstance(found, Event))):
                raise ValueError(f"{show_time(found.at)} is not after the line before ({show_time(last)}); times rise")
        except ValueError as fault:
            problems.add(file, number, str(fault))
            continue
        last, is_first, is_over = found.at, False, isinstance(found, Mark)
        yield found


def read_events(path: Path, *, strict: bool = False) -> tuple[EventRecord, Problems]:
    """Return a whole file of events and its problems; raises as `stream_events`."""
    problems, record = Problems(strict=strict), EventRecord()
    for found in stream_events(path, problems):
        match found:
            case Event():
                record.events.append(found)
            case Checkpoint():
                record.checkpoint = found
            case Seal():
                record.seals.append(found)
            case Mark():
                record.mark = found
    return record, problems


def payload_of(fields: Mapping[str, Any]) -> dict[str, Any]:
    """Return the fields that are not empty (None or ""), as in an event's payload."""
    return {name: value for name, value in fields.items() if value is not None and value != ""}


def _kind(text: str) -> EventKind:
    try:
        return EventKind(text)
    except ValueError:
        raise ValueError(f"{quoted(text)} is not a kind of event; these are: {', '.join(EventKind)}") from None


def _no_constant(word: str) -> NoReturn:
    raise ValueError(f"{word} is not a number")


def _brief(fault: Exception) -> str:
    if isinstance(fault, json.JSONDecodeError):
        return f"{fault.msg} at column {fault.colno}"
    return "nested too deeply" if isinstance(fault, RecursionError) else str(fault).partition(":")[0]
