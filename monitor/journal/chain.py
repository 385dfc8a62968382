"""Checks the hashes of the record: whether the rows kept for each day are those that were entered.

Rules: each day's hash is computed again from the stored rows (fresh and packed alike) and compared with the day's link;
links are compared with one another, the open day with the mark. Effects are checked in the same way, by the days in
which they were entered, and each notice is compared with its effect. A day that was dropped on purpose is reported as
pruned: its link still joins the days before and after it. `audit` checks the rest of the file.
"""

import sqlite3
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from enum import StrEnum

from monitor.journal.effect_rows import EFFECT_COLUMNS, from_row
from monitor.journal.event_bytes import ZERO_HASH, event_bytes, fold, next_head, rows_event_bytes
from monitor.journal.ledger import ChainLink, Mark, effect_hash
from monitor.journal.outbox_rows import rows_of
from monitor.journal.storage_faults import DamagedError, sound
from monitor.journal.store import Store
from monitor.journal.timeline import FOREVER, StoredEvent
from monitor.model.effects import EffectKind
from monitor.model.times import DAY_MS, show_time

Told = Callable[[int, int], None]
"""Progress: receives (done, of how many) from time to time."""

NO_DAY = -1
"""Day of a finding that concerns no single day."""

_NOTICE = "at, ordinal, contact, channel, notice, place, occasion, priority, text"


class What(StrEnum):
    """The kinds of finding."""

    PRUNED = "pruned"
    NOT_HASHED = "not hashed"
    CHANGED = "changed"
    MISSING = "missing"
    BROKEN = "broken"
    UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True)
class Finding:
    """A sentence about a day (days since 1970-01-01, UTC) or, with `NO_DAY`, about the whole record."""

    day: int
    what: What
    sentence: str

    def is_fault(self) -> bool:
        """Return whether the finding says that stored data changed or cannot be read."""
        return self.what not in (What.PRUNED, What.NOT_HASHED)


def canonical_event(stored: StoredEvent) -> bytes:
    """Return the canonical bytes of a stored event."""
    event = stored.event
    if stored.rows is None:
        return event_bytes(event.at, event.kind, stored.rest)
    rest = {key: value for key, value in event.payload.items() if key != "rows"}
    return rows_event_bytes(event.at, event.kind, rest, stored.rows)


def verify_chain(store: Store, days: Collection[int] | None = None, told: Told | None = None) -> list[Finding]:
    """Recompute the hashes of the record and compare them; without faults the record is what was entered.

    Args:
        store: The record.
        days: Check only these UTC days (since 1970-01-01), and how the links join; None: all days.
        told: Receives (days checked so far, days in all).

    Returns:
        The findings in order of days, `NO_DAY` first.
    """
    findings: list[Finding] = []
    with store.view():
        try:
            with sound(store.path):
                links = {link.day: link for link in store.chain()}
                mark = store.mark()
                known = _days_of(store.connection, links, mark)
        except DamagedError as fault:
            return [Finding(NO_DAY, What.UNREADABLE, str(fault))]
        findings += _joints(list(links.values()))
        wanted = [day for day in known if days is None or day in days]
        for number, day in enumerate(wanted):
            if told is not None:
                told(number, len(wanted))
            try:
                with sound(store.path):
                    findings += _of_day(store, day, links.get(day), mark)
            except DamagedError as fault:
                findings.append(Finding(day, What.UNREADABLE, f"{_name(day)}: {fault}"))
        if days is None:
            findings += _unhashed(store.connection, links, mark)
    return sorted(findings, key=lambda finding: finding.day)


def days_of(store: Store) -> list[int]:
    """Return the UTC days (since 1970-01-01) of which the record holds or names anything, in order."""
    with store.view(), sound(store.path):
        return _days_of(store.connection, {link.day: link for link in store.chain()}, store.mark())


def _days_of(connection: sqlite3.Connection, links: dict[int, ChainLink], mark: Mark) -> list[int]:
    days = set(links)
    for statement in (
        f"SELECT DISTINCT at / {DAY_MS} FROM event",  # noqa: S608 - a figure
        f"SELECT DISTINCT first_at / {DAY_MS} FROM span",  # noqa: S608 - a figure
    ):
        days |= {day for (day,) in connection.execute(statement)}
    return sorted(days if mark.day is None else days | {mark.day})


def _of_day(store: Store, day: int, link: ChainLink | None, mark: Mark) -> Iterator[Finding]:
    count, hashed = 0, ZERO_HASH
    for stored in store.stored_events(day * DAY_MS - 1, (day + 1) * DAY_MS - 1):
        count += 1
        hashed = fold(hashed, canonical_event(stored))
    yield from _compare(day, (count, hashed), link, mark)
    if link is not None and link.effects_hash is not None and not link.pruned:
        ends = (link.effects_after, FOREVER if link.effects_until is None else link.effects_until)
        yield from _decided(store.connection, day, ends, (link.effects, link.effects_hash))
    elif link is None and day == mark.day:
        yield from _decided(store.connection, day, (mark.effects_after, FOREVER), (mark.effects, mark.effects_hash))


def _joints(links: list[ChainLink]) -> Iterator[Finding]:
    head = ZERO_HASH
    for link in links:
        if link.head != next_head(head, link.hash):
            yield Finding(link.day, What.BROKEN, f"{_name(link.day)}: its link does not join the one before it")
        head = link.head


def _compare(day: int, found: tuple[int, bytes], link: ChainLink | None, mark: Mark) -> Iterator[Finding]:
    count, hashed = found
    if link is not None and link.pruned:
        if count:
            yield Finding(day, What.CHANGED, f"{_name(day)}: it was dropped, yet {count} events stand in it")
        else:
            yield Finding(day, What.PRUNED, f"{_name(day)}: pruned, {link.events} events")
        return
    if link is not None:
        events, expected = link.events, link.hash
    elif day == mark.day:
        events, expected = mark.day_events, mark.day_hash
    else:
        yield Finding(day, What.MISSING, f"{_name(day)}: {count} events stand in it, but it has no link")
        return
    if (count, hashed) != (events, expected):
        yield Finding(day, What.CHANGED, f"{_name(day)}: {_entered('event', events, count)}")


def _entered(what: str, entered: int, found: int) -> str:
    """Return the sentence about a day with a wrong count or hash: `3 events were entered and have been changed since`."""
    one = entered == 1
    words = f"{entered} {what}{' was' if one else 's were'} entered"
    return (
        f"{words} and {'has' if one else 'have'} been changed since"
        if found == entered
        else f"{words}, but it holds {found}"
    )


def _decided(
    connection: sqlite3.Connection, day: int, ends: tuple[int | None, int], entered: tuple[int, bytes]
) -> Iterator[Finding]:
    """Compare the effects after the first of two instants and up to the second, and the notices made from them."""
    bound = (-FOREVER if ends[0] is None else ends[0], ends[1])
    count, hashed = 0, ZERO_HASH
    notices: set[tuple[object, ...]] = set()
    rows = connection.execute(
        f"SELECT {EFFECT_COLUMNS} FROM effect WHERE at > ? AND at <= ? ORDER BY at, ordinal",  # noqa: S608 - a constant
        bound,
    )
    for row in rows:
        count += 1
        hashed = effect_hash(hashed, row)
        if row[3] == EffectKind.NOTICE:
            notices.update(rows_of(from_row(row)))
    if (count, hashed) != entered:
        yield Finding(day, What.CHANGED, f"{_name(day)}: {_entered('decision', entered[0], count)}")
    sent = {
        tuple(row)
        for row in connection.execute(f"SELECT {_NOTICE} FROM outbox WHERE at > ? AND at <= ?", bound)  # noqa: S608 - a constant
    }
    if sent != notices:
        wrong = len(sent ^ notices)
        yield Finding(day, What.CHANGED, f"{_name(day)}: {wrong} notices are not those that were decided")


def _unhashed(connection: sqlite3.Connection, links: dict[int, ChainLink], mark: Mark) -> Iterator[Finding]:
    """Report until when an older version kept effects without a hash."""
    afters = [link.effects_after for link in links.values() if link.effects_hash is not None]
    begun = min((after for after in (*afters, mark.effects_after) if after is not None), default=None)
    if begun is None or None in afters:
        return
    count = connection.execute("SELECT count(*) FROM effect WHERE at <= ?", (begun,)).fetchone()[0]
    if count:
        said = f"{count} decisions up to {show_time(begun)[:10]} were kept by a version that did not hash them"
        yield Finding(NO_DAY, What.NOT_HASHED, f"{said}: whether they are what they were cannot be told")


def _name(day: int) -> str:
    return show_time(day * DAY_MS)[:10]
