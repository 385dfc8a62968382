"""Settings: taken whole, in force from their own `at` on; what is gone is let go, what is new is waited for."""

from collections.abc import Mapping
from typing import Any

from monitor.alarms import CATALOG
from monitor.engine.batching import begin_configured
from monitor.engine.conditions import bed_changes
from monitor.engine.core import Core
from monitor.engine.heaps import advance_heaps, touch, touch_place
from monitor.engine.silence import rearm
from monitor.engine.state import settings_from
from monitor.engine.telling import arm_desk
from monitor.model.settings import AMBIENT, Settings


def take_settings(core: Core, payload: Mapping[str, Any]) -> None:
    """Take a `settings` event."""
    before = core.settings
    core.state.settings = settings_from(payload["settings"])
    core.renew()
    _let_go(core, before)
    for place in core.settings.bins:
        core.bed(place)
    begin_configured(core)
    _recalibrated(core, before)
    _new_probes(core, before)
    advance_heaps(core)
    for probe in core.settings.probes:
        rearm(core, probe, anew=probe not in before.probes)
    core.desk.begin(core.at)
    arm_desk(core)


def _let_go(core: Core, before: Settings) -> None:
    places = {"", AMBIENT, *core.settings.piles, *core.settings.bins}
    for record in list(core.state.alarms.values()):
        of_probe = CATALOG[record.alarm].of_probe and record.alarm != "link" and record.probe
        gone = record.place not in places or (of_probe and record.probe not in core.settings.probes)
        if gone and record.on:
            core.ends(record.place, record.alarm, record.probe)
    for probe in before.probes:
        if probe in core.settings.probes and core.settings.probes[probe].place == before.probes[probe].place:
            continue
        place = before.probes[probe].place
        if place in core.state.bins and place in core.settings.bins:
            bed_changes(core, place, core.bed(place).forget(probe, core.at))
        if place in core.state.dangers:
            core.danger(place).forget(probe)
        if probe not in core.settings.probes:
            core.state.watches.pop(probe, None)
    for place in [one for one in core.state.bins if one not in core.settings.bins]:
        del core.state.bins[place]
        core.wait(place, "bed", None)


def _recalibrated(core: Core, before: Settings) -> None:
    """A calibration applies from its own start, so it can touch what was worked out."""
    for probe, configured in core.settings.probes.items():
        was = before.probes.get(probe)
        if was is None or was.calibrations == configured.calibrations:
            continue
        changed = set(was.calibrations) ^ set(configured.calibrations)
        starts = [one.start for one in changed]
        earliest = min((start for start in starts if start is not None), default=0)
        touch_place(core, core.place_of(probe), 0 if None in starts else earliest)


def _new_probes(core: Core, before: Settings) -> None:
    """A probe that was added, moved or dropped in the configuration changes who serves in a batch."""
    if not before.probes:
        return
    for run in core.state.runs.values():
        known = {p for p, line in run.walk.lines.items() if line.serving}
        outside = {p for p, outing in core.state.outings.items() if outing.out is not None}
        serving = set(core.cores_of(core.pile_of(run)))
        if (serving - outside) != (known - outside):
            touch(core, run, core.at)
