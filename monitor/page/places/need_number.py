"""Chooses the one number of a need, and the ruler that shows it against its limit.

A number is told as it is known: one that nothing measures any more says how old it is, one read by hand says so. A need without
a number has none.
"""

from dataclasses import dataclass

from monitor.drawing import Ruler, ruler
from monitor.model.alarm_kinds import CATALOG, Alarm, WrongSide
from monitor.model.readings import is_hand
from monitor.model.settings import Settings
from monitor.model.units import Quantity, show_percent, show_temperature
from monitor.model.words import Priority
from monitor.notices import Facts
from monitor.page.places.needs import Need
from monitor.page.places.page_times import coarse

HEAP_C, BED_C, WET_PCT = (20_000, 90_000), (0, 42_000), (40_000, 100_000)
"""The ends of the rulers, thousandths of °C and of a percent: the same for all places, so that they can be compared. Ours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NeedNumber:
    """The number of a need.

    Attributes:
        shown: The number: `88 °F`, `3 of 5`.
        words: What it is, if that is not plain from its unit: `turnings`, `silent`; or "".
        limit: The limit in words: `limit 85 °F`, `danger from 90 °F`, `needs 131 °F`; or "".
        note: How it is known, if not by a probe now: `43 h ago`, `by hand`; else the next limit, if it changes the deed; or "".
        drawn: The ruler as SVG, or "".
    """

    shown: str
    words: str = ""
    limit: str = ""
    note: str = ""
    drawn: str = ""


def number_of(settings: Settings, need: Need, facts: Facts, now: int) -> NeedNumber | None:
    """Return the number of a need, or None.

    Args:
        settings: The yard's settings.
        need: The need.
        facts: The facts about it.
        now: The daemon's time, UTC ms.
    """
    kind = CATALOG.get(need.alarm)
    if kind is None:
        return None
    if (done := _turnings(need, facts)) is not None:
        return done
    if need.alarm == Alarm.ROUND_DUE and facts.rounds is not None:
        return NeedNumber(shown=coarse(now - facts.rounds.last), words="since the last round")
    if kind.unheard and not kind.shuts:
        return NeedNumber(
            shown=coarse(now - facts.since), words="unread" if need.alarm == Alarm.UNWATCHED else "silent"
        )
    if facts.value_milli is None:
        return None
    return _measured(settings, need, facts, now)


def _turnings(need: Need, facts: Facts) -> NeedNumber | None:
    """Return how many of the wanted turnings are done, of a turning that the rule asks for."""
    known = facts.progress
    if need.alarm != Alarm.TURNING_DUE or facts.variant or known.turnings is None or not known.turnings_needed:
        return None
    shown = f"{known.turnings} of {known.turnings_needed}"
    drawn = ruler(
        Ruler(low=0, high=known.turnings_needed, value=known.turnings, limit=known.turnings_needed, wrong_above=False,
              words=f"{shown} turnings")
    )  # fmt: skip
    return NeedNumber(shown=shown, words="turnings", drawn=drawn)


def _measured(settings: Settings, need: Need, facts: Facts, now: int) -> NeedNumber:
    kind, milli = CATALOG[need.alarm], facts.value_milli or 0
    heat = facts.quantity is Quantity.TEMPERATURE
    unit = settings.site.temperature_unit
    shown = show_temperature(milli, unit, whole=True) if heat else show_percent(milli, whole=True)
    note = ""
    if facts.stale is not None:
        note = f"{coarse(now - facts.stale.at)} ago"
    elif kind.unheard:
        note = "at last"
    elif is_hand(facts.probe) or facts.read_at is not None:
        note = "by hand" if facts.read_at is None else f"by hand, {coarse(now - facts.read_at)} ago"
    limit = facts.limit_milli
    if need.alarm == Alarm.TOO_HOT and not note and need.place in settings.piles:
        # From there on nobody may touch the heap that this row asks to spread.
        note = f"fire danger from {show_temperature(settings.piles[need.place].thresholds.fire_milli_c, unit)}"
    if limit is None or kind.side is WrongSide.NONE:
        return NeedNumber(shown=shown, note=note)
    said = show_temperature(limit, unit) if heat else show_percent(limit)
    word = "danger from" if kind.priority is Priority.HIGHEST else "limit"
    words = f"needs {said}" if kind.side is WrongSide.SHORT else f"{word} {said}"
    low, high = (BED_C if need.place in settings.bins else HEAP_C) if heat else WET_PCT
    drawn = ruler(
        Ruler(low=low, high=high, value=milli, limit=limit, wrong_above=kind.side is WrongSide.ABOVE,
              words=f"{shown}, {words}")
    )  # fmt: skip
    return NeedNumber(shown=shown, limit=words, note=note, drawn=drawn)
