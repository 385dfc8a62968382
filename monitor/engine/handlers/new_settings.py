"""New settings: they replace the old ones as a whole, in force from their own `at` on.

If they add a probe, drop it or give it another place, that counts from this instant on, as if somebody had carried the probe;
the first settings of all hold for the whole record.
"""

from collections.abc import Mapping
from typing import Any

from monitor.engine.batches.begin_and_end import begin_configured
from monitor.engine.batches.missed_rounds import follow_chains
from monitor.engine.batches.pile_readings import advance_heaps, touch, touch_place
from monitor.engine.context.agenda import Deadline, DueKind
from monitor.engine.context.core import Core
from monitor.engine.context.places import Places
from monitor.engine.context.signals import Signals
from monitor.engine.context.state import Carried, settings_from
from monitor.engine.hand.hand_limits import hold_again
from monitor.engine.output.alarm_notices import arm_desk
from monitor.engine.output.differing_readings import forget_apart
from monitor.engine.output.unwatched_places import follow_watch
from monitor.engine.probes.silence_alarms import leave, rearm
from monitor.model.alarm_kinds import CATALOG, Alarm
from monitor.model.settings import AMBIENT, Settings
from monitor.model.units import Quantity
from monitor.model.words import Role
from monitor.piles import ROUND_LINES


def take_settings(core: Core, payload: Mapping[str, Any]) -> None:
    """Take a `settings` event."""
    before = core.settings
    places = {probe: core.place_of(probe) for probe in before.probes}
    thresholds = {batch: core.thresholds_of(run) for batch, run in core.state.runs.items()}
    core.state.settings = settings_from(payload["settings"])
    if before.probes:
        _carried(core, before)
    _rules_changed(core)
    core.renew()
    for probe, place in places.items():
        if probe not in core.settings.probes or core.place_of(probe) != place:
            leave(core, probe, place)
    _let_go(core, before)
    _come_back(core, before)
    # Beds and dangers are made in the order of the settings, whichever of them is read first.
    for place in core.settings.bins:
        core.bed(place)
    for place in core.settings.piles:
        core.danger(place)
    begin_configured(core)
    for batch, run in core.state.runs.items():
        if batch in thresholds and thresholds[batch] != core.thresholds_of(run):
            # The walk compared readings with the old limits.
            touch(run, 0)
    _recalibrated(core, before)
    _new_probes(core, before)
    _returned_piles(core, before)
    _returned_readings(core, before)
    advance_heaps(core)
    follow_chains(core, anew=True)
    for probe in core.settings.probes:
        rearm(core, probe, anew=probe not in before.probes)
    follow_watch(core)
    core.desk.begin(core.at)
    arm_desk(core)


def _rules_changed(core: Places) -> None:
    """Give each batch the text of its rule that is in force now; a batch whose rule is gone keeps the text it has."""
    for run in core.state.runs.values():
        text = core.settings.rules.get(run.rule_id, run.rule_text)
        if text != run.rule_text:
            run.rule_text, run.hold = text, None
            touch(run, 0)


def _carried(core: Places, before: Settings) -> None:
    """Note each probe whose place the settings changed, with its old and new place."""
    after = core.settings
    for probe in dict.fromkeys((*before.probes, *after.probes)):
        was = before.probes[probe].place if probe in before.probes else ""
        now = after.probes[probe].place if probe in after.probes else ""
        if was == now:
            continue
        if probe in after.probes:
            core.state.retired.pop(probe, None)
        elif before.probes[probe].quantity is Quantity.TEMPERATURE and before.probes[probe].role is Role.CORE:
            core.state.retired[probe] = before.probes[probe]
        if all(carried.probe != probe or carried.time > 0 for carried in core.state.carried):
            core.state.carried.insert(0, Carried(0, probe, was))
        core.state.carried.append(Carried(core.at, probe, now))
        core.state.conditioning.places.pop(probe, None)
    core.state.carried.sort(key=lambda carried: carried.time)


def _come_back(core: Places, before: Settings) -> None:
    """Give a probe that is back in the settings its old watch, so that it counts as heard before."""
    for probe, configured in core.settings.probes.items():
        watch = core.state.gone.pop(f"{probe}/{configured.quantity}", None)
        if watch is not None and probe not in before.probes:
            watch.silent = watch.broken = watch.lost = watch.ahead = False
            watch.hot_time, watch.trail = None, []
            core.state.watches[probe] = watch


def _let_go(core: Signals, before: Settings) -> None:
    """Forget places and probes that have left the settings: their alarms end, their deadlines are dropped."""
    state, settings = core.state, core.settings
    places = {"", AMBIENT, *settings.piles, *settings.bins}
    for key, record in list(state.alarms.items()):
        of_probe = CATALOG[record.alarm].of_probe and record.alarm != Alarm.LINK and record.probe
        if record.place in places and not (of_probe and record.probe not in settings.probes):
            continue
        if record.on:
            core.ends(record.place, record.alarm, record.probe)
        core.wait(Deadline(record.place, DueKind.ALARM, key), None)
        record.muted_until = record.until = None
    for probe in [one for one in state.watches if one not in settings.probes]:
        watch = state.watches.pop(probe)
        if probe in before.probes and watch.newest is not None:
            state.gone[f"{probe}/{before.probes[probe].quantity}"] = watch
        state.outings.pop(probe, None)
    for place in [one for one in state.bins if one not in settings.bins]:
        del state.bins[place]
        core.wait(Deadline(place, DueKind.BED), None)
    for place in [one for one in state.dangers if one not in settings.piles]:
        del state.dangers[place]
        core.wait(Deadline(place, DueKind.HOT), None)
        core.wait(Deadline(place, DueKind.OUT), None)
    _let_go_hands(core)
    for line in [
        one for one in state.lines if one.split("/")[0] not in places or one.split("/")[-1] not in settings.probes
    ]:
        del state.lines[line]


def _let_go_hands(core: Signals) -> None:
    """Hold no reading by hand of a place that has left the settings.

    The readings stay known: they are part of a heap's record, and count again if the place comes back.
    """
    for series, hand in core.state.hands.items():
        if core.settings.place_of_hand(series) is None:
            hand.held = False
            forget_apart(core, hand.place, series)
            core.wait(Deadline(hand.place, DueKind.HAND), None)


def _recalibrated(core: Core, before: Settings) -> None:
    """Touch the record from where calibrations changed: a calibration applies from its own start."""
    for probe, configured in core.settings.probes.items():
        was = before.probes.get(probe)
        if was is None or was.calibrations == configured.calibrations:
            continue
        changed = set(was.calibrations) ^ set(configured.calibrations)
        starts = [one.start for one in changed]
        earliest = min((start for start in starts if start is not None), default=0)
        touch_place(core, core.place_of(probe), 0 if None in starts else earliest, core.at)


def _new_probes(core: Places, before: Settings) -> None:
    """Touch batches in which other probes serve now, because the settings added, moved or dropped some."""
    if not before.probes:
        return
    for run in core.state.runs.values():
        known = {p for p, line in run.walk.lines.items() if (line.serving or line.failed) and p not in ROUND_LINES}
        outside = {p for p, outing in core.state.outings.items() if outing.out is not None}
        serving = set(core.cores_of(core.pile_of(run)))
        if (serving - outside) != (known - outside):
            touch(run, core.at)


def _returned_piles(core: Places, before: Settings) -> None:
    """Work out again the batch on a pile that is back in the settings, so that its alarms are right."""
    for run in core.state.runs.values():
        place = core.pile_of(run)
        if place in core.settings.piles and before.piles and place not in before.piles:
            touch(run, core.at)


def _returned_readings(core: Core, before: Settings) -> None:
    """Hold the readings by hand of each place that is back in the settings, as far as they are of what lies there now."""
    for place in (*core.settings.piles, *core.settings.bins):
        if place not in before.piles and place not in before.bins:
            spans = [one for batch in core.state.batches.batches.values() for one in batch.spans if one.pile == place]
            hold_again(core, place, max((one.start if one.end is None else one.end for one in spans), default=0))
