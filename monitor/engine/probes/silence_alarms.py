"""Probes that fall silent, break, or stop while hot: their deadlines and alarms."""

from monitor.engine.context.agenda import SILENCE
from monitor.engine.context.core import Core
from monitor.engine.context.current_values import is_old, minimum, watched
from monitor.engine.context.places import Places
from monitor.engine.context.probe_watch import Dues, ProbeWatch
from monitor.engine.context.read_spots import spots_at
from monitor.engine.context.signals import Signals
from monitor.engine.output.alarm_notices import cause_of, emit_notices
from monitor.engine.output.place_conditions import bed_changes, danger_signals
from monitor.model.alarm_kinds import Alarm, alarm_key
from monitor.model.alarm_values import AlarmValues
from monitor.model.settings import AMBIENT, Probe
from monitor.model.units import Quantity


def heard(core: Signals, probe: str, watch: ProbeWatch, late: bool) -> None:
    """Note that a probe was heard: it is no longer silent or lost.

    Args:
        core: The port of signals.
        probe: The probe.
        watch: Its watch.
        late: Whether the reading arrived late.
    """
    watch.arrive(core.at, late)
    if watch.silent or watch.lost:
        place = core.place_of(probe)
        watch.heard_from = core.at
        for was, alarm in ((watch.silent, Alarm.SILENT), (watch.lost, Alarm.HOT_AND_LOST)):
            if was:
                core.ends(place, alarm, probe)
        watch.silent = watch.lost = False


def usable(core: Signals, probe: str) -> None:
    """Note that a reading of a probe was accepted: it is no longer broken."""
    watch = core.watch(probe)
    if watch.broken:
        watch.broken = False
        core.ends(core.place_of(probe), Alarm.BROKEN, probe)


def fall_quiet(core: Signals, probe: str, place: str) -> None:
    """End the alarms about a probe itself (not about its place), whose silence no longer matters.

    Args:
        core: The port of signals.
        probe: The probe.
        place: Its place, or "".
    """
    watch = core.state.watches.get(probe)
    if watch is not None:
        watch.silent = watch.broken = watch.lost = watch.ahead = False
        watch.hot_time = None
    for alarm in (Alarm.SILENT, Alarm.BROKEN, Alarm.HOT_AND_LOST):
        core.ends(place, alarm, probe)
    core.ends(place or AMBIENT, Alarm.CLOCK, probe)


def leave(core: Core, probe: str, place: str) -> None:
    """Forget a probe at a place that it has left: its alarms there end, and its values no longer count.

    Args:
        core: The engine's ports.
        probe: The probe.
        place: The place that it has left.
    """
    fall_quiet(core, probe, place)
    core.state.outings.pop(probe, None)
    moves = len(core.moves)
    if place in core.state.bins and place in core.settings.bins:
        bed_changes(core, place, core.bed(place).forget(probe, core.at))
    if place in core.state.dangers and place in core.settings.piles:
        danger_signals(core, place, core.danger(place), core.danger(place).forget(probe))
    if not _others_speak(core, probe, place):
        # Nothing measures whether the trouble is over, so the message must say that nobody knows.
        for move in core.moves[moves:]:
            move.record.values = move.record.values._replace(left=probe)


def _others_speak(core: Places, probe: str, place: str) -> bool:
    """Return whether another probe of a place, or a reading by hand, measures the same quantity there."""
    gone = core.all_probes().get(probe)
    quantity = Quantity.TEMPERATURE if gone is None else gone.quantity
    for name, configured in core.probes_of(place):
        watch = core.state.watches.get(name)
        if name == probe or configured.quantity is not quantity or watch is None:
            continue
        if watch.accepted_time is not None and core.in_service(name) and not (watch.silent or watch.lost):
            return True
    return quantity is Quantity.TEMPERATURE and bool(spots_at(core.state.hands, place, held=True))


def rearm(core: Signals, probe: str, anew: bool = False) -> None:
    """Bring the agenda into step with a probe.

    Args:
        core: The port of signals.
        probe: The probe; without effect if the settings do not know it or its silence does not matter.
        anew: Whether its silence counts from now on only.
    """
    configured = core.settings.probes.get(probe)
    if configured is None or not watched(configured):
        return
    watch = core.watch(probe)
    if anew:
        watch.heard_from = core.at
    due = dues_of(core, probe, watch).soonest(core.at) if core.in_service(probe) else None
    if due is not None:
        _check_at(core, due)


def serve_silence(core: Core) -> None:
    """Look at every probe, and begin the alarms of those whose deadline has come."""
    for probe, configured in sorted(core.settings.probes.items(), key=lambda item: (core.place_of(item[0]), item[0])):
        if watched(configured):
            due = _look(core, probe, configured, core.watch(probe))
            if due is not None:
                _check_at(core, due)
    # No probe heard from now on can fall silent before the shortest wait has passed, so looking again then spares working
    # out a deadline at every reading.
    _check_at(core, core.at + core.shortest_wait_ms)


def _check_at(core: Signals, due: int) -> None:
    # One deadline stands for all probes, the earliest of theirs or earlier. Serving it too early does no harm.
    due = max(due, core.at + 1)
    if core.silence_check is None or due < core.silence_check:
        core.wait(SILENCE, due)


def _look(core: Core, probe: str, configured: Probe, watch: ProbeWatch) -> int | None:
    """Begin the alarms of a probe whose deadlines have come, and return the next of these, UTC ms, or None."""
    place = core.place_of(probe)
    if not core.in_service(probe):
        return None
    dues, pile, before = dues_of(core, probe, watch), core.pile(place), (watch.silent, watch.broken, watch.lost)
    lost = dues.lost is not None and dues.lost <= core.at and core.link_lives(configured.source)
    if pile is not None and lost and _hot_here(core, place, watch.hot_time or 0):
        watch.lost = True
        _begin(core, place, Alarm.HOT_AND_LOST, probe, watch.arrived or core.at, pile.thresholds.lost_above_milli_c)
    if dues.silent is not None and dues.silent <= core.at:
        watch.silent = True
        if not watch.lost:
            _begin(core, place, Alarm.SILENT, probe, _last_word(watch), None)
        _count_as_silent(core, probe, place)
    elif dues.broken is not None and dues.broken <= core.at:
        watch.broken = True
        _begin(core, place, Alarm.BROKEN, probe, watch.accepted_at or watch.heard_from, None)
    if (watch.silent, watch.broken, watch.lost) != before:
        dues = dues_of(core, probe, watch)
    return dues.soonest(core.at)


def let_go_of_old(core: Core, probe: str) -> None:
    """Let a probe's last value count as a silent probe's at a start if it is too old to tell of now.

    The probe itself is waited for anew.
    """
    if is_old(core, probe):
        _count_as_silent(core, probe, core.place_of(probe))


def _count_as_silent(core: Core, probe: str, place: str) -> None:
    if place in core.state.bins and place in core.settings.bins:
        bed_changes(core, place, core.bed(place).silent(probe, core.at))
    elif place in core.state.dangers and place in core.settings.piles:
        core.danger(place).silent(probe)
        danger_signals(core, place, core.danger(place), [])


def _hot_here(core: Places, place: str, time: int) -> bool:
    """Return whether a probe's reading at an instant (UTC ms) can be of the heap that lies on its pile now."""
    batch = core.batches.on(place)
    if batch is not None:
        return time >= batch.spans[-1].start
    ends = [span.end or 0 for one in core.state.batches.batches.values() for span in one.spans if span.pile == place]
    return time >= max(ends, default=0)


def _begin(core: Signals, place: str, alarm: str, probe: str, since: int, limit: int | None) -> None:
    watch = core.watch(probe)
    values, stage = AlarmValues(value_milli=watch.accepted_milli, limit_milli=limit), int(not core.was_cleared(place))
    core.begins(place, alarm, since=since, last=core.at, probe=probe, values=values, stage=stage)


def follow_material(core: Core, place: str) -> None:
    """Set how urgent the silent or broken probes of a place are, after a heap or bedding came or went.

    At an empty place the alarm is about the probe alone, which can wait; once something lies there people are told again.
    """
    stage = int(not core.was_cleared(place))
    for probe, _ in core.probes_of(place):
        for alarm in (Alarm.SILENT, Alarm.BROKEN):
            key = alarm_key(place, alarm, probe)
            record = core.state.alarms.get(key)
            if record is None or not record.on or record.stage == stage:
                continue
            core.begins(place, alarm, since=record.since, last=core.at, probe=probe, values=record.values, stage=stage)
            if not stage and key in core.state.desk.tellings:
                emit_notices(core, core.desk.cause(core.at, cause_of(core, key, record)))


def adopt_stages(core: Places, place: str) -> None:
    """Give alarms of silent and broken probes in an older record, which has no stages, today's stage; nobody is told again."""
    stage = int(not core.was_cleared(place))
    for probe, _ in core.probes_of(place):
        for alarm in (Alarm.SILENT, Alarm.BROKEN):
            record = core.state.alarms.get(alarm_key(place, alarm, probe))
            if record is not None and record.on:
                record.stage = stage


def _last_word(watch: ProbeWatch) -> int:
    return watch.heard_from if watch.arrived is None else max(watch.arrived, 0)


def dues_of(core: Places, probe: str, watch: ProbeWatch) -> Dues:
    """Return when a probe counts as silent, broken or lost, if nothing more is heard of it.

    Args:
        core: The engine's state and settings.
        probe: The probe.
        watch: Its watch, as it stands now or will stand at a later instant.
    """
    configured, place, limits = core.settings.probes[probe], core.place_of(probe), core.settings.probe_thresholds
    least, pile, lost = minimum(core, place), core.pile(place), None
    if pile is not None and configured.quantity is Quantity.TEMPERATURE and not watch.lost:
        lost = watch.lost_due(limits, pile.thresholds, core.link_up_since(configured.source))
    silent = None if watch.silent else watch.silent_due(limits, least)
    broken = None if watch.silent or watch.broken else watch.broken_due(limits, least)
    return Dues(silent, broken, lost)
