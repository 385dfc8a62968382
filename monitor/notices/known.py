"""The facts from which a message is written. An unknown fact is None, "" or False, and the words leave it out."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from monitor.model.alarm_values import ClockOff, Fault
from monitor.model.units import MILLI, Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """A batch's progress under its rule.

    Attributes:
        days, turnings: How many count so far.
        days_needed, turnings_needed: How many the rule asks for.
        at_hold_milli: The hold temperature (thousandths of °C), where the rule offers several.
    """

    days: int | None = None
    days_needed: int | None = None
    turnings: int | None = None
    turnings_needed: int | None = None
    at_hold_milli: int | None = None

    @classmethod
    def of(cls, values: Mapping[str, Any]) -> "Progress":
        """Return the progress that plain numbers describe (`model.progress`)."""
        at_hold = values.get("at_hold_c")
        return cls(
            days=values.get("days"),
            days_needed=values.get("days_needed"),
            turnings=values.get("turnings"),
            turnings_needed=values.get("turnings_needed"),
            at_hold_milli=None if at_hold is None else round(at_hold * MILLI),
        )

    def parts(self) -> list[tuple[str, int, int]]:
        """Return (`day` or `turning`, how many count, how many the rule asks for) where both numbers are known."""
        known = (("day", self.days, self.days_needed), ("turning", self.turnings, self.turnings_needed))
        return [(what, done, wanted) for what, done, wanted in known if done is not None and wanted is not None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stale:
    """The number of a message is old: nothing measures it any more.

    Attributes:
        at: When it was last known, UTC ms.
        others_speak: Only the probe that the message names says nothing more; False: all probes of the place do.
        outside: The probe (or all of them) lies outside instead of being silent.
        elsewhere: The probe serves another place by now.
        outlived: Only silent probes said so, and what a person read since says otherwise.
        read_at, read_milli: When a person read the place since, and what that showed, thousandths of °C; None: nobody did.
    """

    at: int
    others_speak: bool = False
    outside: bool = False
    elsewhere: bool = False
    outlived: bool = False
    read_at: int | None = None
    read_milli: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Rounds:
    """The rounds by hand that prove a heap's rule, all instants in UTC ms.

    Attributes:
        last: When the last round was.
        due: When the next one is due.
        breaks: When the chain breaks.
        lost_days: How many days of the rule are lost if the chain breaks.
        lost_run: Whether the rule's unbroken hours are lost then.
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
        out: The probes that lie outside.
        rest: The core probes that are in.
        aside: Whether no rule is judged by those that lie outside.
        shut: Whether the heap may burn, so that nobody opens it.
    """

    out: tuple[str, ...] = ()
    rest: tuple[str, ...] = ()
    aside: bool = False
    shut: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class InBin:
    """Further facts about a bin.

    Attributes:
        fed_at: When it was last fed, UTC ms.
        air_high_milli: The air's highest temperature of the last 24 h, thousandths of °C.
        coolest_milli, hottest_milli: The coolest and the hottest spot, thousandths of °C.
        by_all: Whether the whole bin is beyond the limit; False: its hottest spot is.
    """

    fed_at: int | None = None
    air_high_milli: int | None = None
    coolest_milli: int | None = None
    hottest_milli: int | None = None
    by_all: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """An alarm that is over, or was told too late.

    Attributes:
        alarm: The alarm's id.
        until: When it ended, UTC ms.
        taken_back: Whether the reading by hand behind it was taken back.
        moved_to: The place to which the heap took its danger; "" where it did not move.
        left: The probe that showed it last and was taken away, or "".
    """

    alarm: str = ""
    until: int | None = None
    taken_back: bool = False
    moved_to: str = ""
    left: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Foretold:
    """Tomorrow's air, and the days of the record that say what it does to a place.

    Attributes:
        day: An instant of the day that is expected, UTC ms.
        days: How many days of the record took the place past its limit.
        last: An instant of the newest of them, UTC ms.
        as_today: Whether nobody gave a forecast, so that tomorrow is taken to be as today.
        by: Who typed the forecast in, or "".
    """

    day: int = 0
    days: int = 0
    last: int = 0
    as_today: bool = False
    by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """The facts of one message; instants in UTC ms, values in thousandths of their quantity's unit.

    Attributes:
        place: Pile, bin, `ambient` or "".
        probe: The probe that decided, or "".
        value_milli: The number.
        limit_milli: The limit of the number.
        since: Since when the alarm has been on.
        now: When the message is written.
        trend_milli_k_per_h: The trend of a temperature, thousandths of a degree an hour.
        quantity: The quantity of value and limit.
        variant: How the alarm came about (`texts` lists the words).
        other_milli: A second value: the hottest for a cold corner, the comfortable probe's for a warm spot.
        rule: The rule's id.
        rule_met: Whether the rule is met.
        progress: The batch's progress under the rule.
        upper_milli: The rule's upper limit.
        stale: Set where nothing measures the number any more.
        read_at: When the number was read; of a turning that is due: by hand.
        turned_at: When the heap was turned after that reading, if it has not been read since.
        last_turned: When the heap was last turned.
        rounds: The rounds by hand that prove the rule.
        outside: The probes that lie outside, where some do.
        moved_from: The place from which the heap brought its danger.
        empty: Whether nothing lies there by the log.
        no_air: Whether no probe measures the air.
        bed: Further facts about a bin.
        fault, clock: A fault of the watch itself.
        ending: The alarm that is over.
        foretold: Tomorrow's air; its figure is the value.
        hand_series, hand_milli: The series and value read by hand beside a probe.
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
    foretold: Foretold = Foretold()
    hand_series: str = ""
    hand_milli: int | None = None

    @property
    def known(self) -> bool:
        """Whether the number still holds now."""
        return self.stale is None and self.turned_at is None
