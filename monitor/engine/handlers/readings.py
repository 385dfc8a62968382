"""Readings: noted as heard, conditioned in order of their own time, and handed to the place they belong to.

A reading that is not newer than its probe's newest, or that could have changed a flag or phase already worked out, touches
the past: the batch's record is then worked out again (`again`), and nothing that was decided is taken back.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from monitor.conditioning import calibrate, possible
from monitor.engine.batches.pile_readings import (
    advance_heaps,
    ambient_reading,
    core_reading,
    touch_hand,
    touch_late,
    touch_place,
)
from monitor.engine.context.agenda import PENDING
from monitor.engine.context.core import Core
from monitor.engine.context.route import Goal, Route
from monitor.engine.context.routes import route
from monitor.engine.hand.hand_limits import import_by_hand, take_by_hand
from monitor.engine.handlers.clock_news import in_time, take_ahead
from monitor.engine.output.differing_readings import follow_apart
from monitor.engine.output.place_conditions import bed_changes, danger_signals, pile_moisture
from monitor.engine.probes.silence_alarms import heard, rearm, usable
from monitor.model.events import FURTHER
from monitor.model.flags import ACCEPTED, Flag, FlagReason, Verdict
from monitor.model.readings import Reading, is_hand

_CODES = (FlagReason.ERROR_CODE, FlagReason.POWER_UP)


def take_readings(core: Core, payload: Mapping[str, Any]) -> None:
    """Take a `readings` event; its rows are ordered by (time, probe)."""
    late_before, probes = core.late_before, core.settings.probes
    seen: dict[str, bool] = {}
    others: list[Reading] = []
    for time, probe, micro, unit in payload.get("rows", ()):
        if probe in probes:
            known = route(core, probe)
            if probe not in seen:
                heard(core, probe, known.watch, time < late_before)
            elif time >= late_before:
                known.watch.arrive(core.at, False)
            seen[probe] = True
            _condition(core, known, Reading(time, probe, micro, unit), late_before)
        else:
            others.append(Reading(time, probe, micro, unit))
    for probe, time in payload.get("ahead", ()):
        if probe in probes:
            heard(core, probe, core.watch(probe), late=False)
            take_ahead(core, probe, time)
            seen[probe] = True
    if core.silence_may_come_sooner():
        for probe in seen:
            rearm(core, probe)
    if others:
        take_by_hand(core, [reading for reading in others if is_hand(reading.probe)], payload)
    take_further(core, payload.get(FURTHER, ()))
    wait_for_pending(core)
    advance_heaps(core)


def take_further(core: Core, rows: Sequence[Any]) -> None:
    """Take values whose instant has another one already: batches are worked out again, alarms go by the first value."""
    for time, series, _, _ in rows:
        if series in core.settings.probes:
            core.state.clashing[series] = max(time, core.state.clashing.get(series, time))
            core.marks.drop(time)
            touch_late(core, series, time)
        elif (where := core.settings.place_of_hand(series)) is not None and where[0] in core.settings.piles:
            touch_hand(core, where[0], time)


def take_imported(core: Core, rows: Sequence[Any], further: Sequence[Any] = (), by: str = "") -> None:
    """Take imported readings: they enter the record silently, and the batches they belong to are worked out again.

    Args:
        core: The engine's ports.
        rows: (time in UTC ms, series, millionths of the unit, unit), ordered by time and series.
        further: The same of values whose instant has another one already.
        by: Who took those that were taken by hand.
    """
    spans: dict[str, tuple[int, int]] = {}
    for time, probe, _, _ in rows:
        first, last = spans.get(probe, (time, time))
        spans[probe] = (min(first, time), max(last, time))
    import_by_hand(core, [Reading(*row) for row in rows if is_hand(row[1])], by)
    for probe, (first, last) in spans.items():
        if probe not in core.settings.probes:
            continue
        core.marks.drop(first)
        watch = core.watch(probe)
        watch.newest = last if watch.newest is None else max(watch.newest, last)
        for place in dict.fromkeys((core.place_of(probe), core.place_at(probe, first), core.place_at(probe, last))):
            touch_place(core, place, first, last)
    take_further(core, further)
    advance_heaps(core)


def serve_pending(core: Core) -> None:
    """Settle readings that waited for an answer that can no longer come."""
    late_before = core.late_before
    for verdict in core.late_flags.expire(core.at):
        take_verdict(core, verdict, late_before)
    wait_for_pending(core)
    advance_heaps(core)


def wait_for_pending(core: Core) -> None:
    """Keep the agenda in step with conditioning."""
    core.wait(PENDING, core.late_flags.due())


def _condition(core: Core, known: Route, reading: Reading, late_before: int) -> None:
    watch, time = known.watch, reading.time
    if time <= core.marks.until:
        core.marks.drop(time)
    if watch.newest is not None and time <= watch.newest:
        milli = calibrate(reading.micro, reading.unit, core.settings.probes[reading.probe], time)
        core.verdicts.append(Verdict(time, reading.probe, milli or 0, Flag.NOT_EVALUATED, FlagReason.OUT_OF_ORDER))
        configured = core.settings.probes[reading.probe]
        if milli is not None and possible(reading, milli, configured, core.settings.probe_thresholds):
            # A node that sends what it kept, the newest first, is not broken.
            watch.accepted_at = core.at
            if watch.broken:
                usable(core, reading.probe)
        touch_late(core, reading.probe, time)
        return
    watch.newest = time
    if watch.ahead:
        in_time(core, reading.probe)
    if time < known.since or core.conditioner.late_for_others(reading.probe, time):
        touch_late(core, reading.probe, time)
    for verdict in core.conditioner.step(reading):
        take_verdict(core, verdict, late_before)


def take_verdict(core: Core, verdict: Verdict, late_before: int) -> None:
    """Hand a reading whose flag is final to its place.

    Args:
        core: The engine's ports.
        verdict: The reading with its flag.
        late_before: The reading is late if its own time is before this (UTC ms).
    """
    core.verdicts.append(verdict)
    time, probe, milli, flag, reason = verdict
    known = core.routes.get(probe)
    if known is None:
        if probe not in core.settings.probes:
            return
        known = route(core, probe)
    if time < known.since:
        return
    if core.state.clashing and time <= core.state.clashing.get(probe, -1):
        touch_late(core, probe, time)
    late = time < late_before
    if flag not in ACCEPTED:
        if known.danger is not None and reason not in _CODES:
            danger_signals(core, known.place, known.danger, known.danger.flagged(probe, time, milli, late))
    elif known.comparable_from is not None and time >= known.comparable_from:
        known.watch.accept(core.at, time, milli, late, known.hot_milli)
        if core.state.apart:
            follow_apart(core, probe, milli)
        if known.watch.broken:
            usable(core, probe)
        _hand_on(core, known, verdict, late)


def _hand_on(core: Core, known: Route, verdict: Verdict, late: bool) -> None:
    time, probe, milli, _, _ = verdict
    goal = known.goal
    if time < known.fit:
        return
    if goal is Goal.CORE:
        core_reading(core, known, verdict, late)
    elif known.bed is not None:
        if not known.bed.unmoved(probe, known.quantity, time, milli):
            bed_changes(core, known.place, known.bed.reading(probe, known.quantity, time, milli, late))
    elif goal is Goal.AMBIENT:
        ambient_reading(core, probe, time, milli)
    elif goal is Goal.PILE_LINE:
        pile_moisture(core, known.place, known.quantity, verdict, late)
    elif known.danger is not None:
        danger_signals(core, known.place, known.danger, known.danger.accepted(probe, time, milli, late))
