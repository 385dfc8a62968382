"""Events: the only things that can change an effect. Each is a row of the journal.

Payloads are plain JSON values, so that an exported event is the event. Their shapes, by kind:
- `readings`: `{"rows": [[time, probe, micro, unit], ...], "ahead": [[probe, time], ...]}`, rows ordered by (time,
  probe), times UTC ms as integers; `ahead` names readings set aside because they claim to come from the future. `further`,
  where there are any, holds rows whose instant already has another value of that probe; they stand beside it. A reading
  taken by hand may name its reader (`by`), the thermometer (`with`), its `depth` (mm) and a `note`; a round has several rows.
- `work`: the fields of `model.work.Work` that are not empty; and, if a browser kept it, `entry`, an id of its own, which
  reveals an entry that is sent twice. `readings` taken by hand may have it too.
- `correction`: `{"of": at, "row": n, "work": {...} | null, "by": ...}`; replaces or withdraws an earlier work event (or
  the nth, from 0, of an import). With `"reading": {"time": time, "probe": "hand:PLACE"}` it withdraws a reading taken by
  hand, which stays in the record, flagged; `"readings": [...]` withdraws several.
- `answer`: `{"alarm": "PLACE/ALARM" or "PLACE/ALARM/PROBE", "answer": "seen" | "not me after all" | "put off" | "taken up
  again" | "out of service" | "back", "until": time | null, "by": name}`.
- `settings`: `{"settings": {...}}`, the canonical JSON of `model.settings.Settings`.
- `imported`: as `readings` (with `further`) or `work`, `{"rows": [...]}` or `{"work": [{...}, ...]}`; enters the record in
  silence.
- `started`: `{"down_since": time | null}`; `stopped`: `{}`.
- `sealed`: `{"meaning": n, "down_since": time, "state": SHA-256 in hex, "rework": bool}`: from here on the engine's meaning n
  decides the record, from a state that is kept beside it; a failed rework adds `why`.
- `clock`: `{"state": "confirmed" | "unconfirmed" | "jumped" | "off" | "caught up", "by_ms": n}`; `off`: the nodes' clocks show
  another time, by that much. `off_ms` (0 or less) is the distance of the true time before `at`, as far as it is known;
  `leap_from` is present if time itself went forward: the instant before. With
  `"state": "waiting", "hot": [[probe, micro, unit, time], ...]` it names readings of fire heat that wait for the clock.
- `evening`: `{"day": "2026-07-19", "what": "heat" | "frost", "milli_c": n, "whence": "typed" | "sent" | "today",
  "by": name, "joins": bool, "places": [{"place": ..., "limit_milli_c": n, "days": n, "last": "2026-07-12"}, ...]}`: tomorrow's
  air, and the places that days like it took past their limit; `joins` puts it into the digest that is about to go.
- `link`: `{"what": "source" | "channel" | "mirror", "name": ..., "up": bool, "why": text}`; `what` is `disk`, `record`,
  `backup` or `page` for a fault of the watch itself (its `name` then means nothing). Of `record`, `looked` may tell how much
  was looked at since an instant: `{"days": n, "seen": n, "first": "2025-12-01", "since": time}`, for the digest.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

ENTRY_ID = "entry"
"""Key of the id that a browser gives an entry; the id stays the same however often the entry is sent."""

FURTHER = "further"
"""Key of the rows whose instant already has another value of their probe."""


LOOKED = "looked"
"""Key of what the daemon looked at of the record in a month."""


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
    EVENING = "evening"
    SEALED = "sealed"


STARTING = frozenset({EventKind.STARTED, EventKind.SEALED})
"""Kinds that gather the deadlines since their `down_since`, in place of serving each at its own instant."""


class Answer(StrEnum):
    """A person's possible answers to an alarm."""

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
    """Return the readings that a correction withdraws; none if it concerns a piece of work."""
    one = payload.get("reading")
    return [*([one] if one else []), *payload.get("readings", ())]


def gathers(event: Event) -> bool:
    """Return whether an event gathers the deadlines before it: a start, or a clock that went forward by a leap."""
    return event.kind in STARTING or (event.kind is EventKind.CLOCK and type(event.payload.get("leap_from")) is int)


def served_until(event: Event) -> int | None:
    """Return the instant (UTC ms) up to which deadlines are served one by one before an event, or None if none are."""
    if event.kind in STARTING:
        found = event.payload.get("down_since")
    else:
        found = event.payload.get("leap_from", event.at) if event.kind is EventKind.CLOCK else event.at
    return found if found is None or type(found) is int else event.at
