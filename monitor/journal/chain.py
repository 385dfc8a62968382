"""Checks the hash chain: that the events kept are those that were entered, day by day.

Rules: a day is worked out anew from what is stored (rows and blocks alike) and compared with its link; links are
compared with one another; the open day with the mark. A day that was dropped on purpose is told as pruned: its link
still joins the days before and after it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby

from monitor.journal.canonical import ZERO_HASH, day_of, event_bytes, fold, next_head, rows_event_bytes
from monitor.journal.faults import telling
from monitor.journal.ledger import ChainLink, Mark
from monitor.journal.store import Store
from monitor.journal.timeline import StoredEvent
from monitor.model.errors import UnavailableError
from monitor.model.times import DAY_MS, show_time


class What(StrEnum):
    """What was found of a day."""

    PRUNED = "pruned"
    CHANGED = "changed"
    MISSING = "missing"
    BROKEN = "broken"
    UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True)
class Finding:
    """Something to tell about a day (days since 1970-01-01, UTC); only `pruned` is no fault."""

    day: int
    what: What
    sentence: str

    def is_fault(self) -> bool:
        """Tell whether the record is not what it was."""
        return self.what is not What.PRUNED


def canonical_event(stored: StoredEvent) -> bytes:
    """Return the canonical bytes of a stored event."""
    event = stored.event
    if stored.rows is None:
        return event_bytes(event.at, event.kind, stored.rest)
    rest = {key: value for key, value in event.payload.items() if key != "rows"}
    return rows_event_bytes(event.at, event.kind, rest, stored.rows)


def verify_chain(store: Store) -> list[Finding]:
    """Return what is to be told about the chain, in order of days; without faults the record is what was entered."""
    with store.view():
        links = {link.day: link for link in store.chain()}
        mark = store.mark()
        findings = list(_joints(list(links.values())))
        try:
            days = {day: (count, hashed) for day, count, hashed in _days(store.stored_events())}
        except UnavailableError as fault:
            return [*findings, Finding(-1, What.UNREADABLE, str(fault))]
        for day in sorted(links.keys() | days.keys() | ({mark.day} if mark.day is not None else set())):
            findings += _compare(day, days.get(day, (0, ZERO_HASH)), links.get(day), mark)
    return sorted(findings, key=lambda finding: finding.day)


def check_pages(store: Store) -> list[str]:
    """Return what SQLite finds wrong with the file as a whole; empty if nothing. Reads all of it."""
    with telling(store.path), store.view():
        rows = store.connection.execute("PRAGMA integrity_check").fetchall()
    return [str(row[0]) for row in rows if row[0] != "ok"]


def _days(events: Iterator[StoredEvent]) -> Iterator[tuple[int, int, bytes]]:
    for day, group in groupby(events, key=lambda stored: day_of(stored.event.at)):
        count, hashed = 0, ZERO_HASH
        for stored in group:
            count += 1
            hashed = fold(hashed, canonical_event(stored))
        yield day, count, hashed


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
        why = "they were changed" if count == events else f"{count} stand in it"
        yield Finding(day, What.CHANGED, f"{_name(day)}: {events} events were entered, {why}")


def _name(day: int) -> str:
    return show_time(day * DAY_MS)[:10]
