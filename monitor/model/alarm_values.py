"""The `values` of an alarm, which only this module writes and reads."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

from monitor.model.times import parse_time, show_time
from monitor.model.units import MILLI, plain_number

_FAULT = ("what", "name", "why")
_CLOCK = ("by_ms", "limit_ms")
_TEXTS = ("variant", "moved_from", "by", "rule", "moved_to", "left")
_MILLI = ("value", "limit", "coolest", "hottest", "other")
_OWN = {*_FAULT, *_CLOCK, *_TEXTS, *_MILLI, "read", "breaks", "taken_back"}
"""The keys of JSON; numbers of any other key are the rule's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """A fault of the watch itself: which link is down (`source`, `channel`, `mirror`), its name, and why."""

    what: str = ""
    name: str = ""
    why: str = ""

    def plain(self) -> dict[str, Any]:
        """Return it as plain JSON: a link with all three, any other fault with its reason alone."""
        if self.what:
            return {"what": self.what, "name": self.name, "why": self.why}
        return {"why": self.why} if self.why else {}


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockOff:
    """The error of a clock, and the greatest error allowed, ms."""

    by_ms: int | None = None
    limit_ms: int | None = None


_NO_NUMBERS: Mapping[str, int | float] = {}


class AlarmValues(NamedTuple):
    """The facts about an alarm that its record keeps; values in thousandths of the quantity's unit, instants in UTC ms.

    A tuple, since each reading beyond a limit makes one, and a frozen dataclass with as many fields takes five times as long.

    Attributes:
        fault: The link that is down, or why the watch itself fails.
        clock: How wrong a clock is.
        read, breaks: When the last round was, and when the chain breaks.
        variant: How the alarm came about (`notices.texts` lists the words).
        hottest_of_heap_milli: The heap's hottest value beside its cold corner.
        value_milli, limit_milli: The number that decided, and its limit.
        moved_from: The place from which the heap brought its danger, or "".
        by: Which probes are beyond the limit, `any` or `all`, if the alarm has a limit for each case; else "".
        coolest_milli, hottest_milli: The range of the bin's temperatures, if the alarm has a limit for each case.
        comfortable_milli: The coolest value in comfort of a bin that is too hot elsewhere.
        rule: The rule's id, where the alarm is about it.
        progress: The numbers of the batch's progress with it (`RuleProgress.values`).
        moved_to: The place to which the heap took its danger, which ended the alarm here; else "".
        left: The probe that showed it last and was taken away, which ended the alarm; else "".
        taken_back: Whether the alarm ended because the reading by hand behind it was taken back.
    """

    fault: Fault = Fault()
    clock: ClockOff = ClockOff()
    read: int | None = None
    breaks: int | None = None
    variant: str = ""
    hottest_of_heap_milli: int | None = None
    value_milli: int | None = None
    limit_milli: int | None = None
    moved_from: str = ""
    by: str = ""
    coolest_milli: int | None = None
    hottest_milli: int | None = None
    comfortable_milli: int | None = None
    rule: str = ""
    progress: Mapping[str, int | float] = _NO_NUMBERS
    moved_to: str = ""
    left: str = ""
    taken_back: bool = False

    @property
    def other_milli(self) -> int | None:
        """The second number that is told: the heap's hottest, or the bin's comfortable value."""
        return self.comfortable_milli if self.hottest_of_heap_milli is None else self.hottest_of_heap_milli

    @property
    def lost(self) -> bool:
        """Whether that which showed the trouble is gone: the reading by hand, the probe or the heap."""
        return bool(self.taken_back or self.left or self.moved_to)

    def plain(self) -> dict[str, Any]:
        """Return them as plain JSON, in the order of keys that records and exports show."""
        known = {
            **self.fault.plain(),
            "by_ms": self.clock.by_ms,
            "limit_ms": self.clock.limit_ms,
            "read": None if self.read is None else show_time(self.read),
            "breaks": None if self.breaks is None else show_time(self.breaks),
            "variant": self.variant or None,
            **_other(self.hottest_of_heap_milli),
            "value": _number(self.value_milli),
            "limit": _number(self.limit_milli),
            "moved_from": self.moved_from or None,
            "by": self.by or None,
            "coolest": _number(self.coolest_milli),
            "hottest": _number(self.hottest_milli),
            **_other(self.comfortable_milli),
            "rule": self.rule or None,
            **self.progress,
            "moved_to": self.moved_to or None,
            "left": self.left or None,
            "taken_back": self.taken_back or None,
        }
        return {key: value for key, value in known.items() if value is not None}

    @classmethod
    def of(cls, plain: Any) -> "AlarmValues":
        """Return the values of an alarm; a value that the record lacks or garbles gets its default."""
        known = plain if isinstance(plain, Mapping) else {}
        numbers = {key: one for key, one in known.items() if isinstance(one, int | float)}
        texts = {key: one for key, one in known.items() if isinstance(one, str)}
        # A heap's other number stands before the one that decided, a bin's after it.
        other = "hottest_of_heap" if next(iter(known), "") == "other" else "comfortable"
        milli: dict[str, Any] = {
            f"{other if key == 'other' else key}_milli": round(one * MILLI)
            for key, one in _some(numbers, _MILLI).items()
        }
        return cls(
            fault=Fault(**_some(texts, _FAULT)),
            clock=ClockOff(**_some(numbers, _CLOCK)),
            read=_instant(texts.get("read", "")),
            breaks=_instant(texts.get("breaks", "")),
            progress={key: one for key, one in numbers.items() if key not in _OWN},
            taken_back=known.get("taken_back") is True,
            **_some(texts, _TEXTS),
            **milli,
        )


def _number(milli: int | None) -> int | float | None:
    return None if milli is None else plain_number(milli)


def _other(milli: int | None) -> dict[str, int | float]:
    return {} if milli is None else {"other": plain_number(milli)}


def _some(known: dict[str, Any], keys: tuple[str, ...]) -> dict[str, Any]:
    return {key: known[key] for key in keys if key in known}


def _instant(text: str) -> int | None:
    try:
        return parse_time(text)
    except ValueError:
        return None
