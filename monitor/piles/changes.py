"""The changes that a walk can report, and the table of transitions that drives it (the docs draw their diagram from it)."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from monitor.model.alarm_kinds import Alarm
from monitor.model.units import plain_number
from monitor.model.words import Phase


class ChangeKind(StrEnum):
    """Kinds of changes that a walk reports."""

    PHASE = "phase"
    RULE = "rule"
    ALARM = "alarm"
    REHEATING = "reheating"
    SUGGESTED = "suggested turning"


class Reason(StrEnum):
    """The reason of a change, for programs."""

    BUILT = "built"
    HELD = "held"
    HELD_AGAIN = "held again"
    LOST = "lost"
    COOLED = "cooled"
    GAVE_UP = "gave up"
    REKINDLED = "rekindled"
    COOL_ENOUGH = "cool enough for worms"
    WARM_AGAIN = "warm again"
    RAW_ADDED = "raw added"
    REHEATED = "reheated"
    RULE = "rule progress"
    NEVER_WARM = "below 40 °C after building or turning"
    NEVER_HOT = "hold temperature not reached"
    CORNER = "coldest below, hottest above"
    EVERY_FEW_DAYS = "the rule wants another turning"
    BELOW = "hottest below the hold temperature with the rule unmet"
    COOLED_UNMET = "cooled with the rule unmet"
    NOT_BACK = "not back at temperature after a turning"
    OVER = "over"
    LIKE_TURNED = "every probe fell and rose as if turned"


class Signal(StrEnum):
    """Signals that move a batch from phase to phase; dwells are those of the thresholds, defaults named here."""

    AT_HOLD = "coldest at or above the hold temperature for 60 min"
    LOST_HOLD = "rule unmet: coldest below by more than the deadband, hottest not, for 60 min outside recovery"
    COOLED = "has held: hottest below by more than the deadband for 12 h outside recovery"
    GAVE_UP = "never held: hottest peaked at 40 °C and has been below it for 24 h outside recovery"
    REKINDLED = "rule unmet: hottest at or above the hold temperature for 60 min"
    COOL_ENOUGH = (
        "hottest at or below both limits for worms for 72 h, 28 days after raw material came in, 72 h after a turning"
    )
    WARM_AGAIN = "hottest above the limit for worms by 1.5 °C for 24 h"
    RAW_ADDED = "raw material came in"


@dataclass(frozen=True, slots=True)
class Transition:
    """One row of the table: in `before`, `signal` leads to `after`."""

    before: Phase
    signal: Signal
    after: Phase
    reason: Reason


TRANSITIONS: tuple[Transition, ...] = (
    Transition(Phase.HEATING, Signal.AT_HOLD, Phase.HOLDING, Reason.HELD),
    Transition(Phase.HEATING, Signal.COOLED, Phase.COOLING, Reason.COOLED),
    Transition(Phase.HEATING, Signal.GAVE_UP, Phase.COOLING, Reason.GAVE_UP),
    Transition(Phase.HOLDING, Signal.LOST_HOLD, Phase.HEATING, Reason.LOST),
    Transition(Phase.HOLDING, Signal.COOLED, Phase.COOLING, Reason.COOLED),
    Transition(Phase.COOLING, Signal.AT_HOLD, Phase.HOLDING, Reason.HELD_AGAIN),
    Transition(Phase.COOLING, Signal.REKINDLED, Phase.HEATING, Reason.REKINDLED),
    Transition(Phase.COOLING, Signal.COOL_ENOUGH, Phase.READY, Reason.COOL_ENOUGH),
    Transition(Phase.READY, Signal.AT_HOLD, Phase.HOLDING, Reason.HELD_AGAIN),
    Transition(Phase.READY, Signal.RAW_ADDED, Phase.COOLING, Reason.RAW_ADDED),
    Transition(Phase.READY, Signal.WARM_AGAIN, Phase.COOLING, Reason.WARM_AGAIN),
)
"""Every way from phase to phase; if two rows of a phase apply at one instant, the upper one wins."""

WALK_ALARMS = (Alarm.COOLED_UNMET, Alarm.STALLED, Alarm.COLD_CORNER, Alarm.TURNING_DUE)
"""The alarm conditions that a walk measures, in the order in which they are examined."""

ON = "on"
OFF = "off"


@dataclass(frozen=True, slots=True, kw_only=True)
class WalkChange:
    """One change, in order of the record's own time.

    Attributes:
        kind: Kind of change.
        axis: `phase`, `rule`, the alarm's id, `reheating` or `suggested turning`.
        before, after: Phase or rule words; `on` and `off` for alarm conditions; "" for changes that happen once.
        since: The exact instant at which it became true, UTC ms.
        reason: Why.
        probe: The probe that decided it, or "".
        coldest_milli, hottest_milli: The proven temperatures at that instant, thousandths of °C, None where none are.
        progress: The numbers of the rule, where its state changed (`RuleProgress.values`).
        fell_at: When the probes began to fall that were as if turned, UTC ms.
    """

    kind: ChangeKind
    axis: str
    before: str | None
    after: str
    since: int
    reason: Reason
    probe: str = ""
    coldest_milli: int | None = None
    hottest_milli: int | None = None
    progress: Mapping[str, int | float] = field(default_factory=dict)
    fell_at: int | None = None

    def heat(self) -> dict[str, int | float]:
        """Return the temperatures as plain JSON, degrees Celsius."""
        known = {"coldest_c": self.coldest_milli, "hottest_c": self.hottest_milli}
        return {key: plain_number(milli) for key, milli in known.items() if milli is not None}
