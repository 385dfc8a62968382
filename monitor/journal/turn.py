"""One turn of the writer: the entries fed in it and everything that follows from them are one transaction."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from monitor.journal import meaning_seals
from monitor.journal.effect_rows import EFFECT_COLUMNS, to_row
from monitor.journal.engine_port import feed_in_order
from monitor.journal.event_bytes import canonical_payload, day_of, event_bytes, rows_event_bytes
from monitor.journal.inbox import Judged, Reply, Request
from monitor.journal.quarantine import Quarantined, Tally, conflict_excerpt, count_aside, set_aside
from monitor.journal.reading_writer import Conflict
from monitor.journal.waiting import Waiting, keep_waiting, take_waiting
from monitor.journal.writer_parts import JournalParts
from monitor.model.effects import Effect
from monitor.model.errors import InvariantError, UnavailableError
from monitor.model.events import FURTHER, Event, EventKind
from monitor.model.notice_rows import NoticeRow
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading
from monitor.model.times import show_time

_KEEP_EFFECT = f"INSERT INTO effect ({EFFECT_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"  # noqa: S608 - a constant

Judge = Callable[[Request], Judged]
"""Decides whether a request may be taken in."""


@dataclass(slots=True)
class Outcome:
    """Result of a turn; valid once the turn is committed.

    Attributes:
        events: The `at` of each event made.
        effects: Decisions of the engine, in order.
        notices: Outbox rows made.
        new_rows: Readings taken in.
        duplicates: Readings dropped because they were there already.
        conflicts: Readings set aside because their key holds another value.
        snapshot: Whether a snapshot was kept.
    """

    events: list[int] = field(default_factory=list)
    effects: list[Effect] = field(default_factory=list)
    notices: list[NoticeRow] = field(default_factory=list)
    new_rows: int = 0
    duplicates: int = 0
    conflicts: int = 0
    snapshot: bool = False

    def counts(self) -> tuple[int, int, int]:
        """Return how many readings were new, repeated and in conflict so far."""
        return self.new_rows, self.duplicates, self.conflicts


class Turn:
    """The open transaction of a writer; made by `Writer.turn` and used only inside its `with`.

    `now` is the writer's clock, UTC ms. Events are stamped `max(now, last event + 1, last advance + 1)`.
    """

    def __init__(self, parts: JournalParts, now: int) -> None:
        self._parts = parts
        self._now = now
        self.outcome = Outcome()
        self.touched_engine = False
        self.changed = False

    def readings(self, rows: Sequence[Reading], ahead: Sequence[tuple[str, int]] = (), source: str = "") -> int | None:
        """Take in readings as one event.

        Args:
            rows: In order of arrival: of two values with one key, the first stays and the other is set aside.
            ahead: (probe, time in UTC ms) of readings set aside because they claim to come from the future.
            source: Named in the quarantine; if empty, the probe is.

        Returns:
            The `at` of the event, UTC ms; None if no reading was new.
        """
        return self._rows(EventKind.READINGS, {"ahead": [list(pair) for pair in ahead]}, rows, source)

    def event(self, kind: EventKind, payload: Mapping[str, Any]) -> int | None:
        """Feed an event of any kind; return its `at`, None if it had rows (readings, imported) and none was new.

        Raises:
            ValueError: The payload cannot be kept (see `canonical_payload`) or its rows are malformed.
        """
        kind = EventKind(kind)
        if kind == EventKind.READINGS or (kind == EventKind.IMPORTED and "rows" in payload):
            rest: dict[str, Any] = {key: value for key, value in payload.items() if key != "rows"}
            if kind == EventKind.READINGS:
                rest.setdefault("ahead", [])
            rest = json.loads(canonical_payload(rest))
            # Which values are further ones is for this journal to say.
            rows = [*payload.get("rows", ()), *rest.pop(FURTHER, ())]
            return self._rows(kind, rest, _as_rows(rows), "")
        text = canonical_payload(payload)
        at = self._open()
        self._parts.store.connection.execute("INSERT INTO event VALUES (?, ?, ?)", (at, str(kind), text))
        # Feed the decoded text and not the caller's tuples and enums, because a later start will read just that text.
        self._feed(Event(at, kind, json.loads(text)), event_bytes(at, kind, text))
        return at

    def seal(self, why: str = "") -> None:
        """Seal the record: from here on the engine's own meaning decides it (called by the writer).

        Args:
            why: Reason why the batches are not worked out again; empty: they are.
        """
        parts = self._parts
        down_since = parts.ledger.mark.latest()
        state = parts.go_on_from_own_state()
        at = self._open()
        parts.ledger.mark.meaning = parts.engine.meaning
        meaning_seals.keep(parts.store.connection, at, parts.engine.meaning, state)
        rest = {"why": why} if why else {}
        payload = {"meaning": parts.engine.meaning, "down_since": down_since, "state": meaning_seals.name_of(state)}
        text = canonical_payload({**payload, "rework": not why, **rest})
        parts.store.connection.execute("INSERT INTO event VALUES (?, ?, ?)", (at, str(EventKind.SEALED), text))
        self._feed(Event(at, EventKind.SEALED, json.loads(text)), event_bytes(at, EventKind.SEALED, text))
        parts.keep_snapshot()

    def take_over_conflicts(self) -> None:
        """Feed what earlier versions only set aside, because its instant had another value (called by the writer)."""
        store = self._parts.store
        unknown = [
            one for one in store.conflicts() if one not in store.further_values.read([one.probe], one.time, one.time)
        ]
        beside = [one for one in unknown if next(store.readings([one.probe], one.time, one.time), None)]
        if beside:
            further = store.further_values.put(beside, self._parts.ledger.stamp(self._now))
            self._feed_rows(
                EventKind.READINGS, {"ahead": [], FURTHER: [list(row) for row in further]}, [], self._open()
            )

    def advance(self, to: int) -> None:
        """Serve the deadlines due at or before `to` (UTC ms); does nothing if the journal is already there."""
        mark = self._parts.ledger.mark
        latest = mark.latest()
        if latest is not None and to <= latest:
            return
        self.touched_engine = self.changed = True
        self._keep(self._parts.engine.advance(to), latest, to)
        mark.advanced = to

    def quarantine(self, source: str, reason: SetAside, detail: str, excerpt: bytes, received: int) -> None:
        """Set an entry aside and count it.

        Args:
            source: Topic, port, file or probe that it came from.
            reason: Why it is set aside.
            detail: Explanation for a person; long ones are cut off.
            excerpt: Its bytes; only the first `EXCERPT_BYTES` are kept.
            received: When it came, UTC ms.
        """
        self.changed = True
        set_aside(self._parts.store.connection, Quarantined(received, source, reason, detail, excerpt))

    def count_aside(self, more: Tally) -> None:
        """Count entries set aside of which nothing else is kept."""
        self.changed = True
        count_aside(self._parts.store.connection, more)

    def keep_waiting(self, rows: Sequence[Waiting]) -> None:
        """Keep readings that wait for the clock to be confirmed."""
        if rows:
            self.changed = True
            keep_waiting(self._parts.store.connection, rows)

    def take_waiting(self, limit: int) -> list[Waiting]:
        """Take out at most `limit` readings that waited for the clock, the oldest first."""
        rows = take_waiting(self._parts.store.connection, limit)
        self.changed = self.changed or bool(rows)
        return rows

    def drain(self, judge: Judge = lambda _: Judged()) -> int:
        """Turn the waiting requests of the inbox into events, refuse them, or ask; return the number of answers."""
        connection = self._parts.store.connection
        before = connection.total_changes
        requests = self._parts.requests.waiting()
        self.changed = self.changed or connection.total_changes != before
        for request in requests:
            counted = self.outcome.counts()
            try:
                suspect = self._parts.suspects.pop(request.id, "")
                judged = Judged(refusal=suspect) if suspect else judge(request)
                at = judged.done
                if judged == Judged():
                    at = self.event(request.kind, request.payload)
            except (UnavailableError, sqlite3.Error):
                raise
            except Exception as fault:
                # This fault loses the whole turn. Refuse this one request the next time, so that it cannot stop the rest.
                self._parts.suspects[request.id] = f"it could not be taken in: {fault}"
                raise
            new, repeated, conflicts = (now - then for now, then in zip(self.outcome.counts(), counted, strict=True))
            self.answer(
                request,
                Reply(
                    at=at,
                    refusal=judged.refusal,
                    new=new,
                    repeated=repeated,
                    conflicts=conflicts,
                    question=judged.question,
                ),
            )
        return len(requests)

    def answer(self, request: Request, reply: Reply) -> None:
        """Answer one request of the inbox (for a caller that feeds requests itself)."""
        self.changed = True
        self._parts.requests.reply(request.id, reply)

    def finish(self) -> None:
        """Keep the rest of the turn: flags, watermark, from time to time a snapshot (called by the writer)."""
        parts = self._parts
        if self.touched_engine:
            latest = parts.ledger.mark.latest()
            changed = parts.flags.keep(parts.engine.take_verdicts(), self._now if latest is None else latest)
            parts.ledger.flagged(changed)
        if self.changed:
            self.outcome.snapshot = parts.snapshot_if_due()
            parts.ledger.save()

    def _rows(self, kind: EventKind, rest: dict[str, Any], rows: Sequence[Reading], source: str) -> int | None:
        parts = self._parts
        at = parts.ledger.stamp(self._now)
        shelved = parts.shelf.put(rows, at)
        new, outcome = shelved.new, self.outcome
        outcome.new_rows += len(new)
        outcome.duplicates += shelved.duplicates
        outcome.conflicts += len(shelved.conflicts)
        for conflict in shelved.conflicts:
            self._set_conflict_aside(conflict, source)
        further = parts.store.further_values.put([one.reading for one in shelved.conflicts], at)
        if further:
            rest = {**rest, FURTHER: [list(row) for row in further]}
        if not new and not further and not rest.get("ahead"):
            return None
        self._open()
        parts.rows += len(new)
        if new:
            parts.spans.note(at, new[0].time, new[-1].time, len(new))
        self._feed_rows(kind, rest, new, at)
        return at

    def _feed_rows(self, kind: EventKind, rest: dict[str, Any], new: list[Reading], at: int) -> None:
        """Feed an event with rows; if these are not all there is of it, it has a row of its own."""
        if kind != EventKind.READINGS or not new or rest != {"ahead": []}:
            self._parts.store.connection.execute(
                "INSERT INTO event VALUES (?, ?, ?)", (at, str(kind), canonical_payload(rest))
            )
        self._feed(Event(at, kind, {**rest, "rows": new}), rows_event_bytes(at, kind, rest, new))

    def _open(self) -> int:
        parts = self._parts
        at = parts.ledger.stamp(self._now)
        self.changed = True
        if parts.ledger.opens_day(at):
            parts.keep_snapshot(opens_day=day_of(at))
            parts.ledger.close_day()
        parts.events += 1
        return at

    def _feed(self, event: Event, canonical: bytes) -> None:
        parts = self._parts
        self.touched_engine = True
        latest = parts.ledger.mark.latest()
        parts.ledger.enter(event.at, canonical)
        self.outcome.events.append(event.at)
        self._keep(feed_in_order(parts.engine, event, parts.store), latest, event.at)

    def _keep(self, effects: Sequence[Effect], after: int | None, until: int) -> None:
        if not effects:
            return
        rows = [to_row(effect) for effect in effects]
        for row in rows:
            # Followers remember an instant, and a decision before that instant would never reach them.
            if row[0] > until or (after is not None and row[0] <= after):
                raise InvariantError(f"the engine went from {after} to {until} and decided something at {row[0]}")
        self._parts.store.connection.executemany(_KEEP_EFFECT, rows)
        self._parts.ledger.decided(rows)
        self.outcome.effects.extend(effects)
        self.outcome.notices.extend(self._parts.dispatch.enter(effects))

    def _set_conflict_aside(self, conflict: Conflict, source: str) -> None:
        row = conflict.reading
        detail = (
            f"{row.probe} at {show_time(row.time)}: {row.micro / 1e6:g} {row.unit} came, but "
            f"{conflict.kept_micro / 1e6:g} {conflict.kept_unit} is kept"
        )
        self.quarantine(source or row.probe, SetAside.CONFLICT, detail, conflict_excerpt(row), self._now)


def _as_rows(rows: Any) -> list[Reading]:
    found = []
    for row in rows:
        time, probe, micro, unit = row
        whole = type(time) is int and type(micro) is int
        if not (whole and isinstance(probe, str) and isinstance(unit, str)):
            raise ValueError(f"{row!r} is no row of time, probe, millionths and unit")
        found.append(Reading(time, probe, micro, unit))
    return found
