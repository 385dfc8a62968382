"""The invariants: what must hold of a record, against the world's own books, whatever befell the program."""

from collections import Counter
from unittest import mock

from monitor.engine import Engine
from monitor.journal import audit, open_reader, resume, snapshots
from monitor.journal.outbox_rows import rows_of
from monitor.mirror.line_protocol import effect_lines
from monitor.model.alarm_kinds import CATALOG, alarm_key
from monitor.model.effects import EffectKind
from monitor.model.events import EventKind
from monitor.model.notice_rows import Delivery
from monitor.model.readings import is_hand
from monitor.model.times import HOUR_MS
from monitor.outbox.retry import GIVE_UP_MS, TRIES_MIN

from .ledger import Broken

SAME_MS = 15 * 60_000
"""A row may count as delivered if its reader was told past the record so shortly before."""


def holds(condition, what):
    if not condition:
        raise Broken(what() if callable(what) else what)


def check_sound(store):
    """Pages, hashes, blocks, flags: everything that the record can check by itself."""
    found = [one.sentence for one in audit(store) if one.is_fault()]
    holds(not found, f"the record is damaged: {found[:3]}")


def check_readings(store, ledger, counts):
    """Nothing acknowledged is lost or doubled, and nothing is there that nobody sent."""
    pruned = {link.day for link in store.chain() if link.pruned}
    probes = [probe for probe in store.probes() if not is_hand(probe)]
    found = Counter((row.probe, row.time, row.micro) for row in store.readings(probes, 0, 1 << 60))
    holds(not found or max(found.values()) == 1, "a reading is there twice")
    further = {(row.probe, row.time, row.micro) for row in store.further(probes, 0, 1 << 60)}
    ahead = set()
    missing = ledger.acknowledged.keys() - found.keys() - further
    if missing:
        ahead = {
            (probe, time)
            for event in store.events()
            if event.kind is EventKind.READINGS
            for probe, time in event.payload.get("ahead", ())
        }
    waiting = {(row[0], row[1]) for row in store.connection.execute("SELECT probe, time FROM waiting")}
    lost = []
    for key in missing:
        first, last = ledger.sent[key], ledger.acknowledged[key]
        if key[:2] in ahead or key[:2] in waiting:
            counts.note("readings set aside as from the future")
        elif any(first is not None and first - 1 <= day <= last for day in pruned):
            continue
        else:
            lost.append(key)
    holds(not lost, lambda: f"{len(lost)} acknowledged readings are lost, the first {sorted(lost)[0]}")
    imported = {key for key in found if key not in ledger.sent}
    strange = [key for key in imported if key[2] % 1_000_000]
    holds(not strange, lambda: f"{len(strange)} readings are there that nobody sent: {strange[:2]}")
    counts.note("readings checked", len(found))


def check_notices(store, ledger, counts):
    """Each notice has its rows, once; a row that counts as delivered was taken by its channel."""
    rows = notice_rows(store)
    for row in rows:
        if row.state is not Delivery.DELIVERED or row.channel == "page":
            continue
        if ledger.letters.get((row.channel, row.contact, row.notice, row.at, row.text)):
            continue
        told = any(
            contact == row.contact and channel == row.channel and abs(when - row.at) < ledger.outage_ms + SAME_MS
            for contact, channel, when, _ in ledger.unstored
        )
        holds(
            told,
            lambda row=row: f"{row.notice} counts as delivered to {row.contact} by {row.channel}, who never got it",
        )
    counts.note("notice rows checked", len(rows))


def notice_rows(store):
    """Return the rows of all notices; each notice must have its rows, once."""
    rows = store.notices(limit=1 << 30)
    keys = Counter((row.at, row.ordinal, row.contact, row.channel) for row in rows)
    holds(not keys or max(keys.values()) == 1, "a notice has two rows for one reader")
    pruned = [link for link in store.chain() if link.pruned]
    since = max((link.day + 1 for link in pruned), default=0) * 86_400_000 + 86_400_000
    wanted = set()
    for effect in store.effects():
        if effect.draft.kind is EffectKind.NOTICE and effect.at >= since:
            wanted |= {(effect.at, effect.ordinal, one[2], one[3]) for one in rows_of(effect)}
    lost = wanted - keys.keys()
    holds(not lost, lambda: f"{len(lost)} notices have no row: {sorted(lost)[:2]}")
    return rows


def check_told_once(store, counts):
    """Nobody is told more often that an alarm is new than it became so: it may be muted by design, and come back."""
    told, came_on = Counter(), Counter()
    for effect in store.effects():
        draft = effect.draft
        if draft.kind is EffectKind.ALARM and draft.after == "unacknowledged":
            came_on[alarm_key(draft.place, draft.axis, draft.probe), draft.since] += 1
        begins = draft.kind is EffectKind.NOTICE and draft.axis == "new" and draft.reason == "came on"
        if begins and draft.values.get("alarm") in CATALOG:
            told[draft.after, *draft.values["keys"], draft.since] += 1
    twice = {key: many for key, many in told.items() if many > max(1, came_on[key[1], key[-1]])}
    holds(not twice, lambda: f"told twice: {list(twice.items())[:3]}")
    counts.note("beginnings of alarms told, checked", len(told))


def check_replay(folder, writer, counts):
    """An engine that is fed all events from the start stands where the writer's stands, and decides the same."""
    with open_reader(folder) as store:
        pruned = any(link.pruned for link in store.chain())
        oldest = sorted(snapshots.newest_first(store.connection))[:1] if pruned else []
        with mock.patch.object(snapshots, "newest_first", return_value=oldest):
            again = resume(store, Engine, Engine.restore)
    holds(not again.differences, lambda: f"fed again it decides otherwise: {again.differences[0].sentence()}")
    holds(not again.faults, lambda: f"it cannot be fed again: {again.faults}")
    holds(again.engine.snapshot() == writer.engine.snapshot(), "fed again from the start, the engine stands elsewhere")
    counts.note("events fed again", again.replayed)
    counts.note("replays from the start")


def check_entries(store, ledger):
    """Each entry that was answered as taken in is there once."""
    notes = Counter(event.payload.get("note") for event in store.events_of(EventKind.WORK) if event.payload.get("note"))
    doubled = [note for note, many in notes.items() if many > 1]
    holds(not doubled, f"entered twice: {doubled[:3]}")
    pruned = {link.day for link in store.chain() if link.pruned}
    lost = [note for note, at in ledger.taken.items() if note not in notes and at // 86_400_000 not in pruned]
    holds(not lost, f"entries that were taken in are lost: {lost[:3]}")


def check_settled(store, ledger, now, latest=0):
    """After some hours in which nothing failed, nothing waits: no notice, no request, no reading.

    Letters age by the time of delivery, which does not go back with the computer's clock: it may be at `latest`.
    """
    settled = max(now, store.mark().latest() or 0) - SAME_MS
    rows = [row for row in store.notices(limit=1 << 30) if row.at < settled]
    waiting = [row for row in rows if row.state in (Delivery.WAITING, Delivery.HANDED)]
    holds(
        not waiting,
        lambda: f"{len(waiting)} notices wait still, the first since {now - waiting[0].at} ms: {waiting[0]}",
    )
    failed = [
        row
        for row in rows
        if row.state is Delivery.FAILED
        and "no longer configured" not in row.why
        and (max(now, latest) + HOUR_MS - row.at < GIVE_UP_MS or row.attempts < TRIES_MIN)
    ]
    holds(not failed, lambda: f"given up too early: {failed[0]}")
    holds(not ledger.asked, lambda: f"requests without an answer: {list(ledger.asked)[:3]}")
    holds(store.waiting_readings() == 0, "readings wait for a clock that is right")


def check_mirror(store, server, counts, *, lately_ms=SAME_MS):
    """The mirror's server holds every reading of the record, and every decision that is mirrored, but for the latest ones."""
    held = {}
    for (head, *when), fields in server.points.items():
        if head.startswith("heaptender_reading"):
            tags = dict(part.split("=", 1) for part in head.split(",")[1:])
            held[tags["probe"], int(when[0])] = fields
    missing, wrong = [], []
    for row in store.readings(store.probes(), 0, 1 << 60):
        if str(row.time).endswith("777000"):
            continue
        fields = held.get((row.probe, row.time))
        if fields is None:
            missing.append((row.probe, row.time))
        elif not fields.startswith(f"raw={row.micro // 1_000_000 if row.micro >= 0 else ''}"):
            wrong.append((row.probe, row.time, row.micro, fields))
    holds(not missing, lambda: f"{len(missing)} readings never reached the mirror's server: {missing[:2]}")
    holds(not wrong, lambda: f"the mirror's server holds other values: {wrong[:2]}")
    lines = [
        line
        for line in effect_lines(store.effects(until=(store.mark().latest() or 0) - lately_ms))
        if not line.endswith("777000")
    ]
    lost = [line for line in lines if _key(line) not in server.points]
    holds(not lost, lambda: f"{len(lost)} decisions never reached the mirror's server: {lost[:2]}")
    counts.note("mirrored points checked", len(held) + len(lines))


def _key(line):
    head, _, when = line.rsplit(" ", 2)
    return head, when
