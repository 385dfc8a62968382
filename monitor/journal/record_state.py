"""Names the state of a record, so that what was worked out of it can be kept and later be told to be right still.

A name holds the head of the hash chain at the last closed day, which stands for every event until then, and a hash over the
later events that have rows of their own. Readings alone do not change it. A record of the same name that goes on has the same
events up to there; what retention dropped since must be asked for separately (`dropped_entries`).
"""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from monitor.journal.event_bytes import day_of
from monitor.journal.storage_faults import sound
from monitor.journal.store import Store
from monitor.journal.timeline import FOREVER
from monitor.model.events import Event, EventKind
from monitor.model.times import DAY_MS, in_calendar


@dataclass(frozen=True, slots=True)
class StateName:
    """The name of a state of a record.

    Attributes:
        until: The instant up to which it reaches, UTC ms.
        day: The last closed day before that (UTC days since 1970-01-01); None: no day was closed.
        head: The head of the chain after it, in hex, or "".
        rest: A hash over the later events, in hex.
    """

    until: int
    day: int | None
    head: str
    rest: str


def state_name(store: Store) -> StateName:
    """Return the name of the present state; hold one state (`Store.view`) meanwhile."""
    with store.view(), sound(store.path):
        last = store.mark().latest()
        until = -FOREVER if last is None else last
        row = store.connection.execute(
            "SELECT day, head FROM chain WHERE day < ? ORDER BY day DESC LIMIT 1",
            (FOREVER if last is None else day_of(last),),
        ).fetchone()
        day, head = (None, "") if row is None else (int(row[0]), bytes(row[1]).hex())
        return StateName(until, day, head, _hash(store.timeline.explicit(_end_of(day), until)))


def events_since(store: Store, name: StateName) -> list[Event] | None:
    """Return the events with rows of their own since a state of a record, without readings; None if its past is another."""
    with store.view(), sound(store.path):
        if name.day is not None:
            row = store.connection.execute("SELECT head FROM chain WHERE day = ?", (name.day,)).fetchone()
            if row is None or bytes(row[0]).hex() != name.head:
                return None
        last = store.mark().latest()
        if (-FOREVER if last is None else last) < name.until:
            return None
        if _hash(store.timeline.explicit(_end_of(name.day), name.until)) != name.rest:
            return None
        return [
            Event(in_calendar(at), EventKind(kind), json.loads(payload))
            for at, kind, payload in store.timeline.explicit(name.until, FOREVER)
        ]


def event_at(store: Store, at: int) -> Event | None:
    """Return the event with a row of its own at an instant (UTC ms), without readings; None if there is none."""
    with store.view(), sound(store.path):
        found = next(store.timeline.explicit(at - 1, at), None)
        return None if found is None else Event(at, EventKind(found[1]), json.loads(found[2]))


def payload_at(store: Store, at: int) -> Any:
    """Return the payload, without readings, of the event at an instant (UTC ms).

    Raises:
        DamagedError: There is none.
    """
    with store.view(), sound(store.path):
        return json.loads(next(store.timeline.explicit(at - 1, at))[2])


def _end_of(day: int | None) -> int:
    return -FOREVER if day is None else (day + 1) * DAY_MS - 1


def _hash(rows: Iterable[tuple[int, str, str]]) -> str:
    found = hashlib.sha256()
    for row in rows:
        found.update(json.dumps(row).encode())
    return found.hexdigest()
