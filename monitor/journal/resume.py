"""Brings the engine back to where the journal stands: the newest usable snapshot, then the later events once more.

Rules:
1. Effects of events fed again are compared with the stored ones. A difference is reported, changes nothing that is
   stored, and sends nothing: a decision is never taken back.
2. While an event is fed again, the engine sees history as it stood at that event.
3. A snapshot that cannot be used (damaged, or of another version of the engine) is reported and passed over for an older
   one, at worst for the beginning. Otherwise only the events after the newest snapshot are read, so that a start does not
   take longer as the history grows.
4. At a seal the engine goes on from the state that was kept there. Effects before the last seal are not compared, nor any
   effects in a record that another meaning of the engine decided: they stay as they are.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from monitor.journal import meaning_seals, snapshots
from monitor.journal.effect_rows import EffectRow, from_row, to_row
from monitor.journal.engine_port import Fresh, Machine, Restore, feed_in_order
from monitor.journal.ledger import Mark
from monitor.journal.store import AsOf, Store
from monitor.journal.timeline import FOREVER
from monitor.model.effects import Effect
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind

_WITH_ROWS = (EventKind.READINGS, EventKind.IMPORTED)


@dataclass(frozen=True, slots=True)
class Difference:
    """An effect that differs after its event was fed again; None on the side that has no effect."""

    at: int
    ordinal: int
    stored: Effect | None
    again: Effect | None

    def sentence(self) -> str:
        """Describe the difference to a person."""
        if self.stored is None:
            what = f"would now be decided but was not ({self.again.draft.why if self.again else ''})"
        elif self.again is None:
            what = f"was decided but would not be now ({self.stored.draft.why})"
        else:
            what = f"was decided as {self.stored.draft.why!r} and would now be {self.again.draft.why!r}"
        return f"effect {self.at}/{self.ordinal} {what}; the record stays as it is"


@dataclass(frozen=True, slots=True, kw_only=True)
class Resumed:
    """The engine as the journal left it.

    Attributes:
        down_since: Until when the writer was at work (last event or watermark), UTC ms; None: it never was.
        replayed: Number of events fed again.
        replayed_rows: Number of readings in them.
        snapshot_at: The instant of the snapshot that was used; None: the engine began at the beginning.
        differences: Effects that differ from the stored ones.
        faults: Sentences about snapshots that could not be used.
    """

    engine: Machine
    down_since: int | None
    replayed: int
    replayed_rows: int = 0
    snapshot_at: int | None = None
    differences: list[Difference] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)


def resume(store: Store, fresh: Fresh, restore: Restore) -> Resumed:
    """Bring an engine to where the journal stands; only reads.

    Args:
        store: The journal.
        fresh: Makes an engine that has seen no event.
        restore: Makes an engine from a snapshot.

    Returns:
        The engine, the work it took to bring it back, and everything that differed.

    Raises:
        UnavailableError: The journal cannot be read.
    """
    faults: list[str] = []
    engine, base, after = _restored(store, fresh, restore, faults)
    mark = store.mark()
    again: list[Effect] = []
    replayed = rows = 0
    since = -FOREVER if base is None else base
    for event in store.events(after):
        if event.kind is EventKind.SEALED:
            since = event.at - 1
            try:
                engine = meaning_seals.engine_at(store.connection, event.at, restore)
            except UnavailableError as fault:
                faults.append(f"{fault}: it is passed over")
        again += feed_in_order(engine, event, AsOf(store, event.at))
        engine.take_verdicts()
        replayed += 1
        rows += len(event.payload.get("rows", ())) if event.kind in _WITH_ROWS else 0
    if mark.advanced is not None:
        again += engine.advance(mark.advanced)
    engine.take_verdicts()
    compare = mark.meaning == engine.meaning
    return Resumed(
        engine=engine,
        down_since=mark.latest(),
        replayed=replayed,
        replayed_rows=rows,
        snapshot_at=base,
        differences=list(_differences(store.effects(since), again, mark, since)) if compare else [],
        faults=faults,
    )


def _restored(store: Store, fresh: Fresh, restore: Restore, faults: list[str]) -> tuple[Machine, int | None, int]:
    for at in snapshots.newest_first(store.connection):
        try:
            snapshot = snapshots.load(store.connection, at)
            engine = restore(snapshot.state)
        except (ValueError, KeyError, TypeError) as fault:
            first = str(fault).splitlines()[0] if str(fault) else type(fault).__name__
            faults.append(f"the snapshot of {at} cannot be used ({first}): an older one is")
            continue
        return engine, at, -FOREVER if snapshot.last_event is None else snapshot.last_event
    return fresh(), None, -FOREVER


def _differences(stored: Iterable[Effect], again: Iterable[Effect], mark: Mark, since: int) -> Iterator[Difference]:
    """Yield the effects after the instant `since` (UTC ms) that differ."""
    until = mark.latest()
    again = (effect for effect in again if effect.at > since)
    then: dict[tuple[int, int], EffectRow] = {(row[0], row[1]): row for row in map(to_row, stored)}
    now: dict[tuple[int, int], EffectRow] = {(row[0], row[1]): row for row in map(to_row, again)}
    for key in sorted(then.keys() | now.keys()):
        if then.get(key) != now.get(key) and until is not None:
            before, after = then.get(key), now.get(key)
            yield Difference(*key, from_row(before) if before else None, from_row(after) if after else None)
