"""Readings: noted as heard, conditioned in order of their own time, and handed to the place they belong to.

A reading that is not newer than its probe's newest, or that could have changed a flag or phase already worked out, touches
the past: the batch's record is then worked out again (`again`), and nothing that was decided is taken back.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from monitor.conditioning import calibrate, comparable
from monitor.engine.conditions import bed_changes, pile_moisture
from monitor.engine.core import Core
from monitor.engine.heaps import advance_heaps, ambient_reading, pile_flagged, pile_reading, touch_place
from monitor.engine.links import in_time, take_ahead
from monitor.engine.silence import heard, rearm, usable
from monitor.model.flags import ACCEPTED, Flag, FlagReason, Verdict
from monitor.model.readings import Reading, is_hand
from monitor.model.settings import AMBIENT
from monitor.model.units import Quantity

_CODES = (FlagReason.ERROR_CODE, FlagReason.POWER_UP)


def take_readings(core: Core, payload: Mapping[str, Any]) -> None:
    """Take a `readings` event; its rows are ordered by (time, probe)."""
    late_ms = core.settings.probe_thresholds.late_ms
    seen: list[str] = []
    for row in payload["rows"]:
        reading = Reading(*row)
        if is_hand(reading.probe):
            _by_hand(core, reading)
            continue
        if reading.probe not in core.settings.probes:
            continue
        late = core.at - reading.time > late_ms
        heard(core, reading.probe, late)
        in_time(core, reading.probe)
        seen.append(reading.probe)
        _condition(core, reading)
    for probe, time in payload.get("ahead", ()):
        if probe in core.settings.probes:
            heard(core, probe, late=False)
            take_ahead(core, probe, time)
            seen.append(probe)
    for probe in dict.fromkeys(seen):
        rearm(core, probe)
    wait_for_pending(core)
    advance_heaps(core)


def take_imported(core: Core, rows: Sequence[Any]) -> None:
    """Take imported readings: they enter the record in silence, and the batches they belong to are worked out again."""
    for row in rows:
        reading = Reading(*row)
        watch = core.state.watches.get(reading.probe)
        if watch is not None and (watch.newest is None or watch.newest < reading.time):
            watch.newest = reading.time
        touch_place(core, core.place_of(reading.probe), reading.time)
    advance_heaps(core, silently=True)


def serve_pending(core: Core) -> None:
    """Settle readings that waited for an answer that can no longer come."""
    for verdict in core.conditioner.expire(core.at):
        take_verdict(core, verdict)
    wait_for_pending(core)
    advance_heaps(core)


def wait_for_pending(core: Core) -> None:
    """Keep the agenda in step with conditioning."""
    core.wait("", "pending", core.conditioner.due())


def _condition(core: Core, reading: Reading) -> None:
    watch = core.watch(reading.probe)
    place = core.place_of(reading.probe)
    if watch.newest is not None and reading.time <= watch.newest:
        milli = calibrate(reading.micro, reading.unit, core.settings.probes[reading.probe], reading.time)
        core.verdicts.append(
            Verdict(reading.time, reading.probe, milli or 0, Flag.NOT_EVALUATED, FlagReason.OUT_OF_ORDER)
        )
        touch_place(core, place, reading.time)
        return
    watch.newest = reading.time
    if core.conditioner.late_for_others(reading.probe, reading.time):
        touch_place(core, place, reading.time)
    for verdict in core.conditioner.step(reading):
        take_verdict(core, verdict)


def _by_hand(core: Core, reading: Reading) -> None:
    """A hand reading forms a series of its own: kept, flagged as read by hand, compared with no alarm limit."""
    for verdict in core.conditioner.step(reading):
        core.verdicts.append(verdict)


def take_verdict(core: Core, verdict: Verdict) -> None:
    """Hand a reading whose flag is final to its place."""
    core.verdicts.append(verdict)
    time, probe, milli, flag, reason = verdict
    configured = core.settings.probes.get(probe)
    if configured is None:
        return
    late = core.at - time > core.settings.probe_thresholds.late_ms
    place, quantity = core.place_of(probe), configured.quantity
    if flag not in ACCEPTED:
        if quantity is Quantity.TEMPERATURE and reason not in _CODES:
            pile_flagged(core, place, probe, time, milli, late)
        return
    if not comparable(configured, time):
        return
    pile = core.pile(place)
    hot = pile.thresholds.lost_above_milli_c if pile is not None and quantity is Quantity.TEMPERATURE else 1 << 40
    core.watch(probe).accept(core.at, time, milli, late, hot)
    usable(core, probe)
    if place == AMBIENT:
        if quantity is Quantity.TEMPERATURE:
            ambient_reading(core, time, milli)
    elif place in core.settings.bins:
        bed_changes(core, place, core.bed(place).reading(probe, quantity, time, milli, late))
    elif quantity is Quantity.TEMPERATURE:
        pile_reading(core, place, probe, time, milli, late)
    else:
        pile_moisture(core, place, quantity, verdict, late)
