"""Places that are empty by the log while something in them reads warm: their state is unknown, so people are asked.

Rules (ours):
1. Only readings from two hours after the emptying on count, since people may carry the heap away slowly.
2. Warm is 40 °C in a pile, from where on a heap counts as heating, and the limit of overheating in a bin; and it is 10 °C
   above the air, where that is known, since a probe in the sun is no heap. An alarm of dangerous heat that is on counts at
   any temperature.
3. The digest asks each day while it lasts. Alarms of danger ring as they do anywhere.
"""

from typing import NamedTuple

from monitor.engine.context.core import Core
from monitor.engine.context.current_values import is_old
from monitor.engine.context.dangerous_heat import CARRIED
from monitor.engine.context.places import Places
from monitor.engine.context.read_spots import spots_at
from monitor.engine.output.alarm_facts import written
from monitor.model.alarm_kinds import alarm_key
from monitor.model.times import HOUR_MS
from monitor.model.units import Quantity
from monitor.notices import Facts, Message

GRACE_MS = 2 * HOUR_MS
ABOVE_AIR_MILLI_K = 10_000
WARM_MILLI_C = 40_000


class Warm(NamedTuple):
    """A warm reading: its series, its value (thousandths of °C), and when it was measured (UTC ms)."""

    series: str
    milli: int
    time: int


def warm_though_empty(core: Places, place: str) -> Warm | None:
    """Return the hottest warm reading of a place that is empty by the log; else None."""
    if not core.nothing_lies(place):
        return None
    since, limit = _emptied(core, place) + GRACE_MS, _limit(core, place)
    found = [one for one in _read(core, place) if one.time >= since and one.milli >= limit]
    for alarm in CARRIED:
        record = core.state.alarms.get(alarm_key(place, alarm))
        value = record.values.value_milli if record is not None and record.on else None
        if record is not None and value is not None and record.probe not in {one.series for one in found}:
            found.append(Warm(record.probe, value, record.last))
    return max(found, key=lambda one: (one.milli, one.series), default=None)


def empty_words(core: Core, place: str, warm: Warm) -> Message:
    """Return the question that people are asked about such a place.

    Args:
        core: The engine's ports.
        place: Pile or bin.
        warm: Its hottest warm reading.
    """
    facts = Facts(place=place, probe=warm.series, value_milli=warm.milli, since=warm.time, now=core.at)
    return written(core, "empty-yet-warm", facts)


def _read(core: Places, place: str) -> list[Warm]:
    found = [Warm(series, one.milli, one.time) for series, one in spots_at(core.state.hands, place, held=True).items()]
    for probe, configured in core.probes_of(place):
        watch = core.state.watches.get(probe)
        if configured.quantity is not Quantity.TEMPERATURE or watch is None or not core.in_service(probe):
            continue
        if watch.accepted_milli is None or watch.accepted_time is None or is_old(core, probe):
            continue
        if not (watch.silent or watch.broken):
            found.append(Warm(probe, watch.accepted_milli, watch.accepted_time))
    return found


def _limit(core: Places, place: str) -> int:
    bin_ = core.settings.bins.get(place)
    limit = WARM_MILLI_C if bin_ is None else bin_.thresholds.overheating_milli_c
    return limit if core.state.air is None else max(limit, core.state.air + ABOVE_AIR_MILLI_K)


def _emptied(core: Places, place: str) -> int:
    """Return since when a place is empty by the log, UTC ms; before all readings where nothing ever lay there."""
    if place in core.settings.bins:
        return core.bed(place).state.emptied_at or 0
    batches = core.state.batches.batches.values()
    return max((span.end or 0 for one in batches for span in one.spans if span.pile == place), default=-GRACE_MS)
