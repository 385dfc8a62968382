"""What is known when a message is written. What is not known is None, "" or False, and is left out of the words."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from monitor.model.units import MILLI, Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far a batch is with its rule.

    Attributes:
        days, turnings: How many count.
        days_needed, turnings_needed: How many the rule wants.
        at_hold_milli: At what temperature, thousandths of °C, where the rule has several ways.
    """

    days: int | None = None
    days_needed: int | None = None
    turnings: int | None = None
    turnings_needed: int | None = None
    at_hold_milli: int | None = None

    @classmethod
    def of(cls, values: Mapping[str, Any]) -> "Progress":
        """Return it from the plain numbers of a rule's progress (`model.progress`)."""
        at_hold = values.get("at_hold_c")
        return cls(
            days=values.get("days"),
            days_needed=values.get("days_needed"),
            turnings=values.get("turnings"),
            turnings_needed=values.get("turnings_needed"),
            at_hold_milli=None if at_hold is None else round(at_hold * MILLI),
        )

    def parts(self) -> list[tuple[str, int, int]]:
        """Return (what, how many count, how many are wanted) for days and turnings, where both are known."""
        known = (("day", self.days, self.days_needed), ("turning", self.turnings, self.turnings_needed))
        return [(what, done, wanted) for what, done, wanted in known if done is not None and wanted is not None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stale:
    """What is told is not known to be so any more.

    Attributes:
        at: When it was last known, UTC ms.
        others_speak: Only the probe that is told says nothing more, else all of the place.
        outside: It is not silent but lies outside.
        elsewhere: It is of another place by now.
    """

    at: int
    others_speak: bool = False
    outside: bool = False
    elsewhere: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Rounds:
    """The rounds by hand that prove a heap's rule, all instants in UTC ms.

    Attributes:
        last: When the last round was.
        due: When the next one is due.
        breaks: When the chain breaks.
        lost_days: How many days of the rule go with it.
        lost_run: Whether its hours in one piece go with it.
        recovers: Whether the heap recovers from a turning.
    """

    last: int
    due: int
    breaks: int
    lost_days: int = 0
    lost_run: bool = False
    recovers: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Outside:
    """Probes of a place that lie outside.

    Attributes:
        out: Which.
        rest: Which core probes do not.
        aside: Those that lie outside are none by which a rule goes.
        shut: The heap may burn, so nobody opens it.
    """

    out: tuple[str, ...] = ()
    rest: tuple[str, ...] = ()
    aside: bool = False
    shut: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class InBin:
    """What is known of a bin beside an alarm's number.

    Attributes:
        fed_at: When it was last fed, UTC ms.
        air_high_milli: The air's highest of 24 h, thousandths of °C.
        coolest_milli, hottest_milli: Either end, thousandths of °C.
        by_all: Whether all of it is beyond the limit, else its hottest spot.
    """

    fed_at: int | None = None
    air_high_milli: int | None = None
    coolest_milli: int | None = None
    hottest_milli: int | None = None
    by_all: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A fault of the watch itself: what is away (`source`, `channel`, `mirror`), its name, and why."""

    what: str = ""
    name: str = ""
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockOff:
    """How far a clock is off, and how far it may be, ms."""

    by_ms: int | None = None
    limit_ms: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """An alarm that is over, or was told too late.

    Attributes:
        alarm: Its id.
        until: When it was over, UTC ms.
        taken_back: The reading by hand behind it was taken back.
        moved_to: The place that the heap went to with its danger.
        left: The probe that said so last and was taken away.
    """

    alarm: str = ""
    until: int | None = None
    taken_back: bool = False
    moved_to: str = ""
    left: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What is known when a message is written; instants in UTC ms, values in thousandths of their quantity's unit.

    Attributes:
        place: Pile, bin, `ambient` or "".
        probe: The probe that decided it, or "".
        value_milli: The number.
        limit_milli: Its limit.
        since: Since when.
        now: When the message is written.
        trend_milli_k_per_h: Which way a temperature is heading, thousandths of a degree an hour.
        quantity: What value and limit are of.
        variant: Which way an alarm came about (`texts` lists the words).
        other_milli: The other end: the hottest for a cold corner, the probe in comfort for a warm spot.
        rule: The rule's id.
        rule_met: Whether it is met.
        progress: How far the batch is with it.
        upper_milli: Its upper limit.
        stale: Where what is told is not known to be so any more.
        read_at: When what is told was read; of a turning that is due: by hand.
        turned_at: When the heap was turned after that, and not read since.
        last_turned: When the heap was last turned.
        rounds: The rounds by hand that prove the rule.
        outside: Probes that lie outside, where some do.
        moved_from: The place that the heap came from with its danger.
        empty: By the log nothing lies there.
        no_air: No probe tells how warm the air is.
        bed: Of a bin.
        fault, clock: Of the watch itself.
        ending: Of an alarm that is over.
        hand_series, hand_milli: What was read by hand beside a probe, and where.
    """

    place: str
    probe: str = ""
    value_milli: int | None = None
    limit_milli: int | None = None
    since: int
    now: int
    trend_milli_k_per_h: int | None = None
    quantity: Quantity = Quantity.TEMPERATURE
    variant: str = ""
    other_milli: int | None = None
    rule: str = ""
    rule_met: bool = False
    progress: Progress = Progress()
    upper_milli: int | None = None
    stale: Stale | None = None
    read_at: int | None = None
    turned_at: int | None = None
    last_turned: int | None = None
    rounds: Rounds | None = None
    outside: Outside = Outside()
    moved_from: str = ""
    empty: bool = False
    no_air: bool = False
    bed: InBin = InBin()
    fault: Fault = Fault()
    clock: ClockOff = ClockOff()
    ending: Ending = Ending()
    hand_series: str = ""
    hand_milli: int | None = None

    @property
    def known(self) -> bool:
        """Whether what is told is known to be so now."""
        return self.stale is None and self.turned_at is None
