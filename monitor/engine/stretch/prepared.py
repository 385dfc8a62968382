"""Recordings prepared once and run many times with other thresholds of piles and bins.

`prepare` works out once everything that does not depend on those thresholds (calibration, flags, spacing of arrivals).
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

from monitor.engine.context.audience import PEOPLE, Audience
from monitor.engine.engine import Engine
from monitor.engine.stretch.commits import Commits, Piece, joined
from monitor.engine.stretch.door import ROWS, Known, feed_commits
from monitor.engine.stretch.record import ColumnHistory
from monitor.model.effects import Effect
from monitor.model.events import Event, EventKind
from monitor.model.settings import AMBIENT, Settings
from monitor.model.work import WorkKind
from monitor.model.work_kinds import FILLS_BED, PROBE_WORK

PREPARED_ROWS = 4_000_000
"""The most rows in a run of a prepared recording (our choice): runs are kept anyway."""


_LEFT_OUT = (EventKind.SETTINGS, EventKind.SEALED)


@dataclass(slots=True)
class Prepared:
    """A recording that is ready to be run. It can be pickled, and is shared by processes that are forked after it was made."""

    pieces: list[Piece]
    settings: Settings
    known: dict[int, Known] = field(default_factory=dict)


def for_place(pieces: Sequence[Piece], settings: Settings, place: str) -> tuple[list[Piece], Settings]:
    """Return the recording and the settings of one place alone, with the ambient probes.

    The probes and work of other places have no bearing on the place's own alarms, phases and conditions.

    Args:
        pieces: Events and commits in order of `at`.
        settings: The settings of the whole yard.
        place: Pile or bin.
    """
    probes = {name: probe for name, probe in settings.probes.items() if probe.place in (place, AMBIENT)}
    reduced = replace(
        settings,
        probes=probes,
        piles={name: pile for name, pile in settings.piles.items() if name == place},
        bins={name: bin_ for name, bin_ in settings.bins.items() if name == place},
    )
    kept: list[Piece] = []
    for piece in pieces:
        if isinstance(piece, Commits):
            mine = piece.only([*probes])
            if len(mine):
                kept.append(mine)
        elif (
            piece.kind is not EventKind.WORK or piece.payload.get("place") == place or piece.payload.get("to") == place
        ):
            kept.append(piece)
    return kept, reduced


def prepare(pieces: Sequence[Piece], settings: Settings) -> Prepared:
    """Work out everything in a recording that does not depend on the thresholds of piles and bins.

    Args:
        pieces: Events and commits in order of `at`; settings events and seals among them are left out.
        settings: Those in force from 1 ms before the first piece to the end.
    """
    kept = [piece for piece in pieces if isinstance(piece, Commits) or piece.kind not in _LEFT_OUT]
    whole = [piece for piece in kept if not isinstance(piece, Commits) or len(piece)]
    prepared = Prepared(joined(whole, _Small(settings)), settings)
    run(prepared, settings)  # leaves behind what every run needs
    return prepared


def run(prepared: Prepared, settings: Settings, until: int | None = None, audience: Audience = PEOPLE) -> list[Effect]:
    """Return the effects that an ordinary replay with these settings gives.

    Args:
        prepared: The recording.
        settings: As those of `prepare`, except for the thresholds of piles and bins.
        until: Where to end, UTC ms; deadlines up to then are served. None: at the last piece.
        audience: Who reads the effects.

    Raises:
        ValueError: The settings differ in more than thresholds.
    """
    if _bare(settings) != _bare(prepared.settings):
        raise ValueError("settings may differ from the prepared ones only in the thresholds of piles and bins")
    if not prepared.pieces:
        return []
    start = start_of(prepared.pieces[0]) - 1
    first = Event(start, EventKind.SETTINGS, {"settings": settings})
    return replay_pieces(Engine(audience=audience), [first, *prepared.pieces], until, known=prepared.known)


def replay_pieces(
    engine: Engine,
    pieces: Sequence[Piece],
    until: int | None = None,
    told: Callable[[int], None] | None = None,
    known: dict[int, Known] | None = None,
    seals: Mapping[int, bytes] | None = None,
) -> list[Effect]:
    """Feed a recording to an engine through both doors, and return its effects.

    Args:
        engine: A fresh one, or one restored from the recording's checkpoint.
        pieces: Events and commits in order of `at`.
        until: Where to end, UTC ms; deadlines up to then are served. None: at the last piece.
        known: Where runs are kept by the number of their piece, if the recording is replayed many times.
        told: Called now and then with the number of events and commits that have been fed.
        seals: States from which another engine goes on at the `sealed` events, by their instants.
    """
    history = ColumnHistory()
    effects: list[Effect] = []
    done = 0
    for number, piece in enumerate(pieces):
        if until is not None and start_of(piece) > until:
            break
        if isinstance(piece, Commits):
            told_here = None if told is None else partial(_told_on, told, done)
            mine = piece if until is None else piece.until(until)
            kept = None if known is None else known.setdefault(number, {})
            rows = ROWS if known is None else PREPARED_ROWS
            effects += feed_commits(engine, mine, history, rows=rows, told=told_here, known=kept)
            done += len(piece)
        else:
            if piece.kind in (EventKind.IMPORTED, EventKind.READINGS):
                history.take(piece.payload)
            if seals and piece.kind is EventKind.SEALED and piece.at in seals:
                engine = Engine.restore(seals[piece.at])
            effects += engine.feed(piece, history)
            engine.take_verdicts()
            done += 1
    if until is not None:
        effects += engine.advance(until)
    return effects


class _Small:
    """Tells which events leave probes, batches, beds and rules as they are: answers, and most work at a bin.

    It must be asked about each event in order, since something put into an empty bin makes a bed there.
    """

    def __init__(self, settings: Settings) -> None:
        self._bins = settings.bins
        self._empty: set[str] = set()

    def __call__(self, event: Event) -> bool:
        if event.kind is EventKind.ANSWER:
            return True
        kind, place = event.payload.get("kind"), event.payload.get("place")
        if event.kind is not EventKind.WORK or place not in self._bins or event.payload.get("to") in self._bins:
            return False
        if kind == WorkKind.EMPTIED:
            self._empty.add(place)
            return False
        if place in self._empty and kind in FILLS_BED:
            self._empty.discard(place)
            return False
        return kind not in PROBE_WORK


def _told_on(told: Callable[[int], None], before: int, done: int) -> None:
    told(before + done)


def start_of(piece: Piece) -> int:
    """Return the instant of a piece's first event, UTC ms."""
    return int(piece.at[0]) if isinstance(piece, Commits) else piece.at


def _bare(settings: Settings) -> Settings:
    return replace(
        settings,
        piles={name: replace(pile, thresholds=type(pile.thresholds)()) for name, pile in settings.piles.items()},
        bins={name: replace(bin_, thresholds=type(bin_.thresholds)()) for name, bin_ in settings.bins.items()},
    )
