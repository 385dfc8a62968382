"""Judges what people ask for: refuse it, ask about it, find it already there, or take it in.

The judgement happens inside the writer's transaction, from the engine's state and the log at that instant, so that of two
simultaneous requests only one can be the first. A request repeated with `again` is believed.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, Protocol

from monitor.app.console.refusals import refusal
from monitor.app.entries.clashing_rounds import clashes
from monitor.app.entries.entry_log import Numbered, author_of, entry_log
from monitor.app.entries.lots_changed import ReadsBoth, lots_changed
from monitor.app.entries.named_by import naming_question
from monitor.app.entries.rehearsal import losses
from monitor.app.entries.sittings import sitting_with
from monitor.app.yard.effect_words import local_time
from monitor.app.yard.garbage import no_search_for_cycles
from monitor.engine import Engine, Standing, Yard, YardSizes, in_the_way, questions, questions_of_readings
from monitor.journal import Judged, Store
from monitor.model.events import ENTRY_ID, EventKind, withdrawn_of
from monitor.model.readings import Reading, is_hand
from monitor.model.settings import Settings
from monitor.model.times import HOUR_MS, show_time
from monitor.model.work import Work, work_from
from monitor.model.work_kinds import Material, declared


class Known(Protocol):
    """The yard as the record has it: the writer inside its transaction, or a look beside it."""

    @property
    def engine(self) -> object:
        """The engine, brought up to date."""

    @property
    def store(self) -> Store | None:
        """The record; None before anything was recorded."""


@no_search_for_cycles()
def judge(
    known: Known,
    settings: Settings,
    now: int,
    kind: EventKind,
    payload: Mapping[str, Any],
    *,
    again: bool,
    sizes: YardSizes,
    reads_both: ReadsBoth | None = None,
) -> Judged:
    """Return the judgement on a request.

    Args:
        known: The writer, within its transaction, or a look.
        settings: The settings in force.
        now: Now, UTC ms.
        kind: The kind of event asked for.
        payload: The event's payload.
        again: Whether the person confirmed it, so that no question is asked.
        sizes: The sizes of the yard, with which figures are compared.
        reads_both: Reads the material with and without an entry that is put right; None: the log is read twice.
    """
    wrong = refusal(kind, payload, settings)
    engine, store = known.engine, known.store
    if wrong or not isinstance(engine, Engine) or kind not in _ENTRIES:
        return Judged(refusal=wrong)
    entries = [] if store is None else entry_log(store, [*settings.piles, *settings.bins])
    if kind is EventKind.CORRECTION:
        return _judge_correction(engine, store, entries, now, payload, again=again, sizes=sizes, reads_both=reads_both)
    if store is not None and (came := _came_before(store, payload)) is not None:
        return Judged(done=came)
    if again:
        return Judged()
    yard = yard_of(engine, entries, now, sizes)
    if kind is EventKind.WORK:
        new = work_from(payload, now)
        asked = questions(_in_sitting(yard, store, entries, new.time, new.by), new)
    else:
        rows = [Reading(*row) for row in payload.get("rows", ()) if is_hand(str(row[1]))]
        first = min((row.time for row in rows), default=now)
        yard = _in_sitting(yard, store, entries, first, str(payload.get("by") or ""))
        depth = payload.get("depth")
        asked = [
            *questions_of_readings(yard, rows, depth if isinstance(depth, int) else None),
            *clashes(settings, entries, rows),
        ]
    return Judged(question=" ".join(asked))


def _in_sitting(yard: Yard, store: Store | None, entries: list[Numbered], time: int, by: str) -> Yard:
    """Return the yard without the question about the day, if somebody in the same sitting has answered it."""
    if store is None or sitting_with(entries, lambda one: author_of(store, one), time, by, yard.now) is None:
        return yard
    return replace(yard, far_back=False)


def yard_of(
    engine: Engine, entries: list[Numbered], now: int, sizes: YardSizes, instead: Numbered | None = None
) -> Yard:
    """Return the yard as the questions see it.

    Args:
        engine: The engine, brought up to date.
        entries: The whole log.
        now: Now, UTC ms.
        sizes: The sizes of the yard.
        instead: An entry that is being put right; it is left out.
    """
    standing = [
        Standing(one.number, one.work)
        for one in entries
        if one.work is not None and not one.undone and one is not instead
    ]
    old = None if instead is None else instead.work
    return Yard(core=engine.core, entries=standing, now=now, place_of=engine.place_of, instead=old, sizes=sizes)


UNASKED_MS = HOUR_MS
"""An entry made less than this ago can be taken back without a question."""
_ENTRIES = (EventKind.WORK, EventKind.READINGS, EventKind.CORRECTION)


def _came_before(store: Store, payload: Mapping[str, Any]) -> int | None:
    """Return the event that already brought this very entry (a browser may send a form twice), or None."""
    key = payload.get(ENTRY_ID)
    if not key:
        return None
    found = store.connection.execute(
        "SELECT at FROM event WHERE kind IN ('work', 'readings') AND json_extract(payload, ?) = ? LIMIT 1",
        (f"$.{ENTRY_ID}", str(key)),
    ).fetchone()
    return None if found is None else int(found[0])


def _judge_correction(
    engine: Engine,
    store: Store | None,
    entries: list[Numbered],
    now: int,
    payload: Mapping[str, Any],
    *,
    again: bool,
    sizes: YardSizes,
    reads_both: ReadsBoth | None,
) -> Judged:
    if gone := withdrawn_of(payload):
        names = {(str(one.get("probe")), one.get("time")) for one in gone}
        one = next((e for e in entries if names & {(series, read.time) for series, read in e.readings}), None)
        if one is None:
            return Judged(refusal="there is no such reading in the record")
        return Judged(refusal=f"entry {one.number} is taken back already" if one.undone else "")
    named = (payload.get("of"), payload.get("row", 0))
    found = next((e for e in entries if e.entered is not None and (e.at, e.entered.row) == named), None)
    if found is None:
        return Judged(refusal=f"there is no entry of {show_time(int(named[0] or 0))}")
    if found.undone:
        return Judged(refusal=f"entry {found.number} is taken back already")
    old = found.work
    assert old is not None
    right = work_from(payload["work"], old.time) if payload.get("work") else None
    if blocked := why_not_undone(engine, entries, found, right):
        return Judged(refusal=blocked)
    if again:
        return Judged()
    asked = []
    if right is not None:
        yard = yard_of(engine, entries, now, sizes, found)
        before = questions(yard, old)
        asked = [one for one in questions(yard, right) if one not in before]
    if question := naming_question(entries, found, right):
        asked.append(question)
    if changed := lots_changed(engine, entries, found, right, sizes, store, reads_both):
        asked.append(" ".join([*changed, "Is that so?"]))
    return Judged(question=" ".join([*asked, *_progress_lost(engine, store, now, payload, found, right)]))


def _progress_lost(
    engine: Engine, store: Store | None, now: int, payload: Mapping[str, Any], found: Numbered, right: Work | None
) -> Iterator[str]:
    """Yield the question about a heap's progress that rests on an entry."""
    # What was entered just now is taken back without a question: that only restores what was.
    bears = any(_bears_on_a_rule(one) for one in (found.work, right) if one is not None)
    if store is not None and bears and now - found.at > UNASKED_MS and (lost := losses(engine, store, payload, now)):
        yield " ".join([*lost, "Is that so?"])


def _bears_on_a_rule(work: Work) -> bool:
    """Return whether a heap's progress under its rule can depend on an entry; a rehearsal of any other is wasted."""
    row = declared(work.kind)
    return row.turns or row.fills or row.probe or row.material is not Material.NOTHING


def why_not_undone(engine: Engine, entries: list[Numbered], found: Numbered, right: Work | None = None) -> str:
    """Return why an entry cannot be taken back or changed now: the work that rests on it; "" if it can.

    Args:
        engine: The engine, brought up to date.
        entries: The whole log.
        found: The entry; a piece of work.
        right: The work it would become; None: it is taken back.
    """
    assert found.entered is not None
    named = (found.at, found.entered.row)
    logged = next((one for one in engine.state.works if (one.at, one.row) == named), None)
    blocking = None if logged is None else in_the_way(engine.state, logged, right)
    if blocking is None:
        return ""
    if isinstance(blocking, str):
        return f"entry {found.number} cannot be undone: {blocking}"
    settings, work = engine.state.settings, blocking.work
    number = next((e.number for e in entries if e.entered and (e.at, e.entered.row) == (blocking.at, blocking.row)), 0)
    when = local_time(work.time, settings)
    return (
        f"entry {number} ({settings.place_name(work.place)} {declared(work.kind).past}, {when}) rests on entry {found.number}; "
        f"take that back first: heaptender log undo {number}"
    )
