"""What must hold at the end of a round: the record against the campaign's books, and what people and servers got."""

import re
import time
from collections import defaultdict
from types import SimpleNamespace

from monitor.engine import Engine
from monitor.journal import open_reader, resume
from monitor.model.events import EventKind
from monitor.model.notice_rows import Delivery
from tests.faults import checks
from tests.faults.checks import holds
from tests.faults.ledger import Broken

from .load import CABLE, MARK, MARKED

LATELY_MS = 3_000
"""Decisions younger than this may be on their way to the mirror's server."""

MAY_REPEAT = ("killed", "power", "disk", "bit", "backup", "ended", "mood", "settings", "clock")
"""First or last words of kinds after which a letter may come again, marked."""

OUTAGES = (
    "disks that filled up", "disks that were full at a start", "disks that came back read-only", "damage found"
)  # fmt: skip
"""Why nothing may be stored for a while; on damaged pages nothing may be either."""

_DIFFERS = re.compile(r"effect \d+/\d+ ")
_GONE = "no longer configured"


def judge(r):
    """Check a round whose daemon has ended; raises `Broken`."""
    with open_reader(r.storage.folder) as store:
        checks.check_sound(store)
        checks.check_readings(store, r.books, r.counts)
        checks.check_entries(store, r.books)
        checks.check_told_once(store, r.counts)
        check_letters(store, r)
        checks.check_replay(
            r.storage.folder, SimpleNamespace(engine=resume(store, Engine, Engine.restore).engine), r.counts
        )
        stored = {(row.probe, row.time, row.micro) for row in store.readings([CABLE], 0, 1 << 60)}
        r.counts.note("readings of the cable that were stored", len(stored))
    check_told(r)
    check_log(r)


def check_letters(store, r):
    """Each notice has a row, once; each row was delivered to its channel; what came again said so."""
    books = r.books
    rows = checks.notice_rows(store)
    waiting = [row for row in rows if row.state in (Delivery.WAITING, Delivery.HANDED)]
    holds(not waiting, lambda: f"{len(waiting)} notices wait still: {waiting[0]}")
    known = {(row.channel, row.notice) for row in rows}
    past = defaultdict(list)
    for (channel, notice), came in books.got.items():
        if (channel, notice) not in known:
            past[channel] += [_plain(f"{title} {text}") for title, text in came]
    for row in rows:
        if row.channel == "page":
            continue
        if row.state is Delivery.FAILED:
            holds(_GONE in row.why, lambda row=row: f"given up: {row}")
            continue
        first, got = row.text.split("\n", 1)[0], books.got.get((row.channel, row.notice))
        if got:
            same = any(_plain(first) in _plain(text) for _, text in got)
            holds(same, lambda row=row: f"{row.notice} came with another text")
            continue
        # Told past the record, while nothing could be stored: in another letter, about the same place.
        named = _plain(first.split(":", 1)[0])
        holds(
            any(named in said for said in past[row.channel]),
            lambda row=row: f"{row.notice} counts as delivered to {row.contact} by {row.channel}, who never got it",
        )
        r.counts.note("notices told past the record")
    r.counts.note("letters past the record", sum(map(len, past.values())))
    if not (r.may_be_strange or r.lied or r.has_restored):
        holds(not any(past.values()), lambda: f"letters came that the record does not know: {dict(past)}")
    holds(not books.disorderly, lambda: f"came again and did not say so: {books.disorderly[0]}")
    # Beside other work even a server that is well may answer too late.
    late = "no answer" in r.daemon.whole_log()
    if not r.kills and not late and not any(word in kind for kind in r.kinds for word in MAY_REPEAT):
        twice = [key for key, came in books.got.items() if len(came) > 1]
        holds(not twice, lambda: f"came twice for no reason: {twice[:3]}")
    r.counts.note("notice rows checked", len(rows))


def _plain(text):
    """Return a text without its blanks: a mail breaks its lines where it likes."""
    return "".join(text.split())


def check_told(r):
    """People heard what they needed: the alarm after it all, once; and while nothing could be stored, that it was so."""
    told = [title for _, title, text in r.books.came_by("wire") if is_mark(title, text)]
    fresh = [title for title in told if "may be a repeat" not in title]
    holds(len(fresh) == 1, lambda: f"the last alarm was told as new {len(fresh)} times: {told}")
    r.counts.note("last alarms that were told once")
    outages = sum(r.counts.of[what] for what in OUTAGES)
    notices = {notice for notice, title, _ in r.books.came_by("wire") if "nothing is stored" in title}
    # A daemon that was killed in an outage does not know whom it has told.
    holds(
        len(notices) <= outages + r.counts.of["kills"],
        lambda: f"in {outages} outages people heard {len(notices)} times that nothing is stored",
    )
    if r.outage_to_tell:
        holds(r.told("nothing has been stored"), "nothing could be stored for seconds, and nobody was told")
        r.counts.note("outages of the disk that people were told of")


def check_log(r):
    """The program found no fault of its own, and fed again it decided as before."""
    log = r.daemon.whole_log()
    holds("This program is at fault" not in log, "the program calls itself at fault; see its log")
    holds(r.has_restored or r.lied or "Traceback" not in log, "the log holds a traceback")
    holds(
        r.has_restored or r.lied or not _DIFFERS.search(log),
        lambda: f"fed again it decided otherwise: {_DIFFERS.search(log)[0]}",
    )


def is_mark(title, text):
    """Return whether a letter is about the last alarm itself; a digest may name it too."""
    return MARKED in title and "WORMS IN DANGER" in title + text


def tell_something(r):
    """Have a bin become too hot that was well all the time: people must hear of it."""
    for celsius in (36.5, 36.6, 36.7):
        r.nodes.say(MARK, celsius)
        time.sleep(0.02)
    r.until(r.nodes.are_heard, "the broker to take what was sent")
    r.until(
        lambda: any(is_mark(title, text) for _, title, text in r.books.came_by("wire")), "the last alarm to be told"
    )


def wait_for_mirror(r):
    """Wait until the mirror's server holds what the record holds."""
    found, looked = "", 0.0

    def holds_all():
        nonlocal found, looked
        if time.monotonic() - looked < 0.5:
            return False
        looked = time.monotonic()
        try:
            with open_reader(r.storage.folder) as store:
                checks.check_mirror(store, r.mirror, r.counts, lately_ms=LATELY_MS)
        except Broken as lacking:
            found = str(lacking)
            return False
        return True

    try:
        r.until(holds_all, "the mirror's server to hold everything")
    except Broken as late:
        raise Broken(f"{found} ({late})") from late


def forget_lost(folder, books):
    """Take out of the books what a disk that lied has lost; nobody can promise that."""
    with open_reader(folder) as store:
        found = {(row.probe, row.time, row.micro) for row in store.readings(store.probes(), 0, 1 << 60)}
        found |= {(row.probe, row.time, row.micro) for row in store.further(store.probes(), 0, 1 << 60)}
        notes = {event.payload.get("note") for event in store.events_of(EventKind.WORK)}
    books.restored(
        (
            {key: day for key, day in books.acknowledged.items() if key in found},
            {note: at for note, at in books.taken.items() if note in notes},
        )
    )
