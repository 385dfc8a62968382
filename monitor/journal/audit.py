"""Checks a whole journal: the file's pages, the hashes of every day, the blocks, and everything that has its own checksum.

Some tables change at any time and have no hash (`WITHOUT_HASH`). The audit checks only that their pages are whole, and that
notices and quarantined entries can be decoded.
"""

from collections.abc import Callable, Collection, Iterator

from monitor.journal import meaning_seals, snapshots
from monitor.journal.blocks import unpack
from monitor.journal.chain import NO_DAY, Finding, Told, What, verify_chain
from monitor.journal.event_bytes import day_of
from monitor.journal.further_values import differs_from_events
from monitor.journal.ledger import flags_sum
from monitor.journal.quarantine import read_quarantine, read_tallies
from monitor.journal.storage_faults import DamagedError, sound
from monitor.journal.store import Store
from monitor.model.events import EventKind
from monitor.model.times import show_time

WITHOUT_HASH = (
    "how far each message came",
    "entries and readings that still waited to be taken",
    "what was set aside as not understood",
    "how far checks of the record came",
)
"""Tables without a hash: they change at any time, and each change would have to write the hash as well."""


def audit(store: Store, told: Told | None = None, *, pages: bool = True) -> list[Finding]:
    """Check all of a journal and return every finding; reads the whole file.

    Args:
        store: The record.
        told: Receives (days checked so far, days in all).
        pages: Whether SQLite checks the pages of the file too.

    Returns:
        The findings: file first, then days in order, then the tables; empty if nothing is to be said.
    """
    findings: list[Finding] = []
    with store.view():
        if pages:
            findings += [Finding(NO_DAY, What.UNREADABLE, f"the file: {one}") for one in check_pages(store)]
        findings += verify_chain(store, told=told)
        findings += audit_beside_days(store)
    return findings


def audit_beside_days(store: Store) -> list[Finding]:
    """Check what no day's hash covers: blocks, flags, further values, seals, snapshots, and the tables without a hash."""
    with store.view():
        return [one for look in (_blocks, _flags, _further, _seals, _snapshots, _rest) for one in _looked(store, look)]


def audit_days(store: Store, days: Collection[int], told: Told | None = None) -> list[Finding]:
    """Check some days and all flags.

    Args:
        store: The record.
        days: UTC days, counted since 1970-01-01.
        told: Receives (days checked so far, days in all).

    Returns:
        The findings, days in order, flags last.
    """
    with store.view():
        return verify_chain(store, days, told) + _looked(store, _flags)


def check_pages(store: Store) -> list[str]:
    """Return the faults that SQLite finds in the pages of the file; empty if there are none. Reads the whole file."""
    try:
        with sound(store.path), store.view():
            rows = store.connection.execute("PRAGMA integrity_check").fetchall()
    except DamagedError as fault:
        return [str(fault)]
    return [str(row[0]) for row in rows if row[0] != "ok"]


def _looked(store: Store, look: Callable[[Store], Iterator[str]]) -> list[Finding]:
    found: list[Finding] = []
    try:
        with sound(store.path):
            found += (Finding(NO_DAY, What.CHANGED, sentence) for sentence in look(store))
    except DamagedError as fault:
        found.append(Finding(NO_DAY, What.UNREADABLE, str(fault)))
    return found


def _blocks(store: Store) -> Iterator[str]:
    """Yield the faults of blocks: a block must hold what its row says, and blocks of one series must follow one another."""
    connection, ends = store.connection, dict[int, int]()
    numbers = [row[0] for row in connection.execute("SELECT id FROM block ORDER BY series, first")]
    for number in numbers:
        *said, data = connection.execute(
            "SELECT series, first, last, rows, at_min, at_max, data FROM block WHERE id = ?", (number,)
        ).fetchone()
        series, first, last = said[:3]
        name = store.book.meaning.get(series, (f"series {series}", ""))[0]
        where = f"the packed readings of {name} from {show_time(first)} on"
        try:
            time, _, lag = unpack(data)
        except ValueError as fault:
            yield f"{where}: {fault}"
            continue
        at = time + lag
        if said[1:] != [int(time[0]), int(time[-1]), len(time), int(at.min()), int(at.max())]:
            yield f"{where}: they are not those that their heading names"
        if series in ends and first <= ends[series]:
            yield f"{where}: they overlap those before them"
        ends[series] = last


def _flags(store: Store) -> Iterator[str]:
    expected = store.mark().flags_sum
    if expected is not None and flags_sum(store.connection) != expected:
        yield "the flags of readings: they are not those that were given"


def _further(store: Store) -> Iterator[str]:
    yield from differs_from_events(store.connection, store.book)


def _seals(store: Store) -> Iterator[str]:
    events = {event.at: event.payload for event in store.events_of(EventKind.SEALED)}
    kept = dict(store.connection.execute("SELECT at, meaning FROM seal").fetchall())
    pruned = {link.day for link in store.chain() if link.pruned}
    for at in sorted(events.keys() | kept.keys()):
        if at not in events:
            if day_of(at) not in pruned:  # exports start from a seal's state, so it outlives its day's events
                yield f"the seal of {show_time(at)}: no event says so"
            continue
        payload = events[at]
        if at not in kept or kept[at] != payload["meaning"]:
            yield f"the seal of {show_time(at)}: it is not as its event says"
        elif meaning_seals.name_of(meaning_seals.state_at(store.connection, at)) != payload["state"]:
            yield f"the seal of {show_time(at)}: its state is not the one that its event names"


def _snapshots(store: Store) -> Iterator[str]:
    for at in snapshots.newest_first(store.connection):
        try:
            snapshots.load(store.connection, at)
        except ValueError as fault:
            yield str(fault)


def _rest(store: Store) -> Iterator[str]:
    """Decode the tables without a hash, so that at least undecodable rows are reported."""
    after = 0
    while rows := store.notices(after, 5_000):
        after = rows[-1].id
        for row in rows:
            if row.attempts < 0 or row.next_try < row.at:
                yield f"notice {row.notice}: its delivery is not as it can have been"
    read_tallies(store.connection)
    read_quarantine(store.connection, 1 << 30)
