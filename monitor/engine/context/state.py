"""All that an engine remembers, and its way to JSON and back."""

from dataclasses import dataclass, field
from functools import cache
from typing import Annotated, Any

from pydantic import PlainSerializer, PlainValidator, TypeAdapter

from monitor.alarms import AlarmRecord
from monitor.bins import BinState
from monitor.conditioning import ConditioningState
from monitor.engine.context.agenda import Deadline, read, written
from monitor.engine.context.batch_runs import BatchRun
from monitor.engine.context.dangerous_heat import DangerState
from monitor.engine.context.link_state import LinkState
from monitor.engine.context.probe_watch import ProbeWatch
from monitor.engine.context.read_spots import Apart, HandSpot
from monitor.model.excursions import Excursion
from monitor.model.settings import Probe, Settings
from monitor.model.work import Work
from monitor.notices import DeskState
from monitor.piles import BatchState, OutingState

VERSION = 2
"""Of the shape of the state; a snapshot of a later version is not restored."""


@dataclass(slots=True)
class Logged:
    """A piece of work as it stands after corrections; `at` names its event, `row` its place among those of an import."""

    at: int
    work: Work
    row: int = 0


@dataclass(slots=True)
class Carried:
    """A probe that was carried: from `time` on it is in `place` ("" where it is nowhere)."""

    time: int
    probe: str
    place: str


@dataclass(slots=True)
class EndedRun:
    """A batch that ended by the event at `at` (UTC ms), and is kept aside for a while."""

    at: int
    run: BatchRun


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Rounds by hand that prove a running rule; instants are UTC ms.

    Attributes:
        last: When the last round was taken.
        due: By when the next one is due.
        rings: When people are told that it is missed.
        breaks: When the chain breaks: nothing after `last` counts until the next round.
    """

    last: int
    due: int
    rings: int
    breaks: int


_WRITTEN_AGENDA = TypeAdapter(dict[str, int])

Agenda = Annotated[
    dict[Deadline, int],
    PlainSerializer(written, dict[str, int]),
    PlainValidator(lambda plain: read(_WRITTEN_AGENDA.validate_python(plain))),
]
"""Deadlines and when they fall due, UTC ms."""


@dataclass(slots=True)
class EngineState:
    """Everything that can change an effect to come.

    Attributes:
        last: Instant of the last event or advance, UTC ms.
        effect_at, ordinal: Id of the next effect.
        settings: Those in force.
        agenda: What falls due, and when (UTC ms).
        carried: Where probes were carried to, where that is not the configured place; by time.
        works: Work of piles that hold a batch, in order of entry.
        watches: By series.
        dangers: By pile.
        bins: By bin.
        lines: Excursions behind lines of the digest, by `place/kind/probe`.
        alarms: By key.
        links: By name of source or channel.
        batches: Which batch lies where.
        runs: Batches under watch by id.
        ended: Batches that ended a little while ago, by id: they can be put back.
        bed_works: Work of bins, and of the air, of the last while, in order of entry.
        retired: Probes that are gone from the settings but have a record in a batch under watch.
        outings: By probe, of those that were out at some time.
        air: The newest accepted ambient temperature, thousandths of °C, or None.
        clock_off_ms: How far the true time is known to lie before `at`, 0 or less.
        clock_unsure: Whether the computer's clock is not known to be right.
        hands: By series, the newest reading taken by hand at each spot.
        withdrawn: By series read by hand, the own times of the readings that were taken back.
        clashing: By probe, the newest instant with several values; a flag up to there that is final later touches the past.
        apart: By place, what was read by hand and a probe that differ (`differing_readings`).
        presumed_back: (probe, instant of an imported turning) where nothing showed that the probe was back, though it must be.
        thermometers: By place, one of the thermometers that it had last (`unwatched_places`).
        air_highs: The air's highest by the hour (`air_highs`).
        evening: The local date of which people were told on the evening before, the newest, or "".
        chains: By pile, the rounds by hand that prove the rule of the batch that lies there now (`missed_rounds`).
    """

    version: int = VERSION
    last: int = 0
    effect_at: int = 0
    ordinal: int = 0
    settings: Settings = field(default_factory=Settings)
    agenda: Agenda = field(default_factory=dict)
    carried: list[Carried] = field(default_factory=list)
    works: list[Logged] = field(default_factory=list)
    watches: dict[str, ProbeWatch] = field(default_factory=dict)
    conditioning: ConditioningState = field(default_factory=ConditioningState)
    dangers: dict[str, DangerState] = field(default_factory=dict)
    bins: dict[str, BinState] = field(default_factory=dict)
    lines: dict[str, Excursion] = field(default_factory=dict)
    alarms: dict[str, AlarmRecord] = field(default_factory=dict)
    links: dict[str, LinkState] = field(default_factory=dict)
    desk: DeskState = field(default_factory=DeskState)
    batches: BatchState = field(default_factory=BatchState)
    runs: dict[str, BatchRun] = field(default_factory=dict)
    ended: dict[str, EndedRun] = field(default_factory=dict)
    bed_works: list[Logged] = field(default_factory=list)
    retired: dict[str, Probe] = field(default_factory=dict)
    outings: dict[str, OutingState] = field(default_factory=dict)
    gone: dict[str, ProbeWatch] = field(default_factory=dict)
    """Watches of probes that the settings no longer have, by `probe/quantity`: one that comes back knows its readings."""
    air: int | None = None
    clock_off_ms: int = 0
    clock_unsure: bool = False
    hands: dict[str, HandSpot] = field(default_factory=dict)
    withdrawn: dict[str, list[int]] = field(default_factory=dict)
    clashing: dict[str, int] = field(default_factory=dict)
    apart: dict[str, Apart] = field(default_factory=dict)
    presumed_back: list[tuple[str, int]] = field(default_factory=list)
    thermometers: dict[str, str] = field(default_factory=dict)
    air_highs: list[tuple[int, int]] = field(default_factory=list)
    chains: dict[str, Chain] = field(default_factory=dict)
    evening: str = ""


@cache
def _states() -> TypeAdapter[EngineState]:
    return TypeAdapter(EngineState)


@cache
def _settings() -> TypeAdapter[Settings]:
    return TypeAdapter(Settings)


def dump_state(state: EngineState) -> bytes:
    """Return a state as JSON."""
    return _states().dump_json(state)


def load_state(data: bytes) -> EngineState:
    """Return the state that was dumped, maybe by an older program: what it lacks gets its default, what is unknown is left out.

    Raises:
        ValueError: The data are no state, or one of a later version.
    """
    state = _states().validate_json(data)
    if state.version > VERSION:
        raise ValueError(f"the snapshot's state is of version {state.version}, this program's of {VERSION}")
    state.version = VERSION
    return state


def settings_from(plain: Any) -> Settings:
    """Return settings from the plain values of a `settings` event.

    Raises:
        ValueError: They are no settings.
    """
    return _settings().validate_python(plain, strict=False)
