"""The whole memory of a batch's walk, as plain values that can be dumped and restored at any moment."""

from dataclasses import dataclass, field
from enum import IntEnum

from monitor.model.progress import RuleProgress
from monitor.model.words import Phase
from monitor.piles.air import AirState
from monitor.piles.cuts import UNPROVEN


class Stir(IntEnum):
    """Kinds of pending changes, in the order in which they are taken if instants are equal."""

    SERVICE = 0
    LEVEL = 1
    MOVING = 2
    FELL = 3
    ROSE = 4
    TURNED = 5
    ADDED = 6
    JOINED = 7
    OPENED = 8
    LONG = 9


Pending = tuple[int, int, str, int]
"""(instant, Stir, probe or "", value: a level, 1/0 for in/out of service or of a long gap, the instant of a fall or of a
turning)."""


@dataclass(slots=True)
class ProbeLine:
    """One core probe: its readings (which may be ahead of the batch), and its state at the instant that the walk has reached.

    Attributes:
        serving: Whether it is in service, after everything fed.
        heard: Whether it was heard since it came into service.
        time: Its newest reading, or the instant it came into service.
        absent: Whether it lags so far behind the others that it no longer holds the frontier back.
        times, values: Its readings from just before the examined instant on; a None value ends a time in service.
        lows: (start of the hour, lowest reading in it), oldest first, of hours that are complete.
        fallen: When it was seen to fall as if turned, while not yet risen again; `lowest` is its lowest since.
        walk_serving, walk_level: The same at the instant that the walk has reached.
        walk_since: When it last came in or went out, up to that instant.
        walk_long: Whether the walk is inside a gap of the line that the pile's settings bridge and the rule does not.
        moving_level: Level among the moving cuts of the hour, at that instant; `moving_to`: worked out up to there.
        turned_like: When it last fell and rose again as if turned, or None.
        gap_ms: The longest gap that its line bridges, if it differs from the probes'; such a line is of rounds by
            hand (`rounds`), which lag behind nobody.
        failed: Whether it is out because it fell silent while people read on by hand; it is back with its next reading.
        unread: Whether values of which none counts came after its newest reading.
    """

    serving: bool = False
    heard: bool = False
    time: int = 0
    absent: bool = False
    times: list[int] = field(default_factory=list)
    values: list[int | None] = field(default_factory=list)
    lows: list[tuple[int, int]] = field(default_factory=list)
    fallen: int | None = None
    lowest: int = 0
    walk_serving: bool = False
    walk_level: int = UNPROVEN
    walk_since: int = -1
    walk_long: bool = False
    moving_level: int = 0
    moving_to: int = 0
    turned_like: int | None = None
    gap_ms: int = 0
    failed: bool = False
    unread: bool = False


@dataclass(slots=True)
class ReadyDwell:
    """The 72 h of *cool enough for worms*: when they began, and the unproven time that paused them."""

    start: int | None = None
    paused_ms: int = 0
    paused_at: int | None = None


@dataclass(slots=True)
class MovingLimits:
    """The limits that move with time, in force for one whole hour; None for a limit that is off."""

    hour: int | None = None
    ready_milli_c: int | None = None
    reheat_milli_c: int | None = None


@dataclass(slots=True)
class TurnPlan:
    """The next turning: when it is due, and the figures behind that.

    Attributes:
        at: When, UTC ms; None if no turning is wanted.
        last: The last turning, or the first hold instant if that is later, UTC ms.
        turnings, days: Turnings and days that the rule still wanted; days None if it counts none.
    """

    at: int | None = None
    last: int = 0
    turnings: int = 0
    days: int | None = None


@dataclass(slots=True)
class WalkState:
    """A batch's walk: pending changes, and its state at `now`, the last instant examined (UTC ms).

    Attributes:
        built: When the batch was built.
        begun: Whether the first phase was reported.
        known: Latest instant at which a probe went out of service (the frontier while none is in service).
        newest_out: Newest reading of the probes that have gone out of service.
        gaps: (probe, start, end) of silences longer than the lag into which no other probe's reading has fallen so far.
        held, peaked, reached: Whether it ever was holding; its hottest ever at 40 °C; ever at hold temperature.
        anchor: The building or the last turning.
        recovery_from, opened_for: When the recovery began, and the turning that it began before, or None.
        reached_since: Whether the hottest was at hold temperature since the anchor.
        lapsed: Whether a recovery ran out and the batch has not been at temperature since.
        dwells: Start of each dwell that runs, by name.
        first_hold: First hold instant since the batch was built or last added to.
        raw_at: When raw material (or another cause) last made the count begin anew after the building; None if it never did.
        void_at: When it came in, while the record has not reached that instant; else None.
        void: Whether the batch had held before the count last began anew, and has not held since.
        void_told, unready_told: Whether *rule not begun* and *not ready for worms* are reported already.
        none_run, none_met: With no rule: start of the running hold, and whether it once lasted long enough.
        alarms: When each alarm condition that is on began.
        gone_cold: Whether *turning due* is on because the batch went cold.
        plan: When the next turning is due.
        cold_weather: Whether ambient made the wait before *stalled* longer; None before it is known.
        cool_since: When the batch last began to cool, while cooling or ready.
        due: Next instant at which time alone changes something, or None.
    """

    built: int
    now: int = 0
    begun: bool = False
    known: int = 0
    newest_out: int = -1
    lines: dict[str, ProbeLine] = field(default_factory=dict)
    pending: list[Pending] = field(default_factory=list)
    gaps: list[tuple[str, int, int]] = field(default_factory=list)
    air: AirState = field(default_factory=AirState)
    phase: Phase = Phase.HEATING
    held: bool = False
    peaked: bool = False
    reached: bool = False
    anchor: int = 0
    turned_at: int | None = None
    recovering: bool = False
    recovery_from: int | None = None
    opened_for: int | None = None
    lapsed: bool = False
    reached_since: bool = False
    was_at: bool = False
    was_hot: bool = False
    was_proven: bool = False
    was_inside: int = 0
    dwells: dict[str, int] = field(default_factory=dict)
    first_hold: int | None = None
    raw_at: int | None = None
    void_at: int | None = None
    void: bool = False
    void_told: bool = False
    unready_told: bool = False
    none_run: int | None = None
    none_met: bool = False
    ready: ReadyDwell = field(default_factory=ReadyDwell)
    moving: MovingLimits = field(default_factory=MovingLimits)
    alarms: dict[str, int] = field(default_factory=dict)
    gone_cold: bool = False
    plan: TurnPlan = field(default_factory=TurnPlan)
    cold_weather: bool | None = None
    cool_since: int | None = None
    reheated: bool = False
    progress: RuleProgress | None = None
    due: int | None = None

    @property
    def shown_phase(self) -> Phase:
        """The phase as reported."""
        return Phase.COOLING if self.unready_told else self.phase

    @classmethod
    def fresh(cls, built: int) -> "WalkState":
        """Return the state of a batch just built, before anything is examined."""
        return cls(built=built, now=built - 1, known=built - 1, anchor=built, due=built)
