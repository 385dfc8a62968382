"""Events: the only things that can change an effect. Each is a row of the journal.

Payloads are plain JSON values, so that an exported event is the event. Their shapes, by kind:

- `readings`: `{"rows": [[time, probe, micro, unit], ...], "ahead": [[probe, time], ...]}`, rows ordered by (time,
  probe), times UTC ms as integers; `ahead` names readings set aside because they claim to come from the future. One taken
  by hand may say `by` whom, `with` which thermometer, how deep (`depth`, mm), and a `note`; a round has several rows.
- `work`: the fields of `model.work.Work` that are not empty; and, where a browser kept it, `entry`, an id of its own, by which
  it is known when it is sent twice. `readings` taken by hand may have it too.
- `correction`: `{"of": at, "row": n, "work": {...} | null, "by": ...}`; replaces or withdraws an earlier work event (or
  the nth, from 0, of an import). With `"reading": {"time": time, "probe": "hand:PLACE"}` it withdraws a reading taken by
  hand, which stays in the record, flagged; `"readings": [...]` withdraws several.
- `answer`: `{"alarm": "PLACE/ALARM" or "PLACE/ALARM/PROBE", "answer": "seen" | "not me after all" | "put off" | "taken up
  again" | "out of service" | "back", "until": time | null, "by": name}`.
- `settings`: `{"settings": {...}}`, the canonical JSON of `model.settings.Settings`.
- `imported`: as `readings` or `work`, `{"rows": [...]}` or `{"work": [{...}, ...]}`; enters the record in silence.
- `started`: `{"down_since": time | null}`; `stopped`: `{}`.
- `sealed`: `{"meaning": n, "down_since": time, "state": SHA-256 in hex, "rework": bool}`: from here on the record is decided
  under the engine's meaning n, from a state that is kept beside it; a failed rework adds `why`.
- `clock`: `{"state": "confirmed" | "unconfirmed" | "jumped" | "off" | "caught up", "by_ms": n}`; `off`: the nodes' clocks show
  another time, by so much. `off_ms` (0 or less) is how far the true time lies before `at`, as far as it is known; `leap_from`
  stands where time itself went forward: the instant before. With `"state": "waiting", "hot": [[probe, micro, unit, time], ...]`
  it names readings of fire heat that wait for the clock.
- `link`: `{"what": "source" | "channel" | "mirror", "name": ..., "up": bool, "why": text}`; `what` is `disk`, `record`,
  `backup` or `page` for a fault of the watch itself (its `name` is then of no account).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

ENTRY_ID = "entry"
"""Key of the id under which a browser sends an entry, however often it sends it."""


class EventKind(StrEnum):
    """Kinds of events."""

    READINGS = "readings"
    WORK = "work"
    CORRECTION = "correction"
    ANSWER = "answer"
    SETTINGS = "settings"
    IMPORTED = "imported"
    STARTED = "started"
    STOPPED = "stopped"
    CLOCK = "clock"
    LINK = "link"
    SEALED = "sealed"


STARTING = frozenset({EventKind.STARTED, EventKind.SEALED})
"""Kinds that gather what fell due since their `down_since`, in place of serving it at its own instants."""


class Answer(StrEnum):
    """What a person can say to an alarm."""

    SEEN = "seen"
    NOT_ME = "not me after all"
    PUT_OFF = "put off"
    TAKEN_UP = "taken up again"
    OUT_OF_SERVICE = "out of service"
    BACK = "back"


@dataclass(frozen=True, slots=True)
class Event:
    """One row of the journal; `at` is engine time (UTC ms), rises strictly, and names the event."""

    at: int
    kind: EventKind
    payload: Mapping[str, Any]


def withdrawn_of(payload: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the readings that a correction withdraws; none where it is of a piece of work."""
    one = payload.get("reading")
    return [*([one] if one else []), *payload.get("readings", ())]


def gathers(event: Event) -> bool:
    """Tell whether what fell due before an event is gathered by it: a start, or a clock that went forward by a leap."""
    return event.kind in STARTING or (event.kind is EventKind.CLOCK and type(event.payload.get("leap_from")) is int)


def served_until(event: Event) -> int | None:
    """Return up to which instant (UTC ms) deadlines are served one by one before an event, None where none are."""
    if event.kind in STARTING:
        found = event.payload.get("down_since")
    else:
        found = event.payload.get("leap_from", event.at) if event.kind is EventKind.CLOCK else event.at
    return found if found is None or type(found) is int else event.at
