"""Probes that lie outside and that no walk follows: a bin's, the air's, and a heap's for moisture, oxygen or its surface.

1. A probe that is out is not judged: its readings are stored and go nowhere, and its silence is no alarm. Its last value
   counts like a silent probe's: it begins no alarm and ends none, since nobody has measured that the trouble is over.
2. It is out until `probe in`; then its readings wait until it has taken the temperature around it, as a core probe's do. A
   probe that a turning took out is back with the last of the heap's core probes. A heap without core probes leaves its others
   in, since nothing would say when they are back.
3. The walk follows the core probes of a heap (`piles.outing`): such a probe is back when it is warm again.
"""

from monitor.engine.context.core import Core
from monitor.engine.context.places import Places, is_core
from monitor.engine.context.state import Logged
from monitor.engine.output.place_conditions import bed_changes, danger_signals
from monitor.engine.probes.silence_alarms import fall_quiet, rearm
from monitor.model.thresholds import PileThresholds
from monitor.model.work import Work, WorkKind
from monitor.piles import OutingState, go_out


def follow_work(core: Core, work: Work) -> None:
    """Take in that a probe was put in or taken out or that a heap was turned, for the probes that no walk follows."""
    if work.kind is WorkKind.TURNED:
        if core.cores_of(work.place):
            for probe in _others(core, work.place):
                _take_out(core, probe, work.time, with_cores=True)
    elif work.probe in core.settings.probes and not _walks(core, work.probe):
        _as_logged(core, work.probe)


def unfollow_work(core: Core, work: Work) -> None:
    """Take in that such a piece of work was taken back; the log no longer holds it."""
    if work.kind is WorkKind.TURNED:
        for probe in _others(core, work.place):
            outing = core.state.outings.get(probe)
            if outing is not None and outing.with_cores and outing.out == work.time:
                _put_in(core, probe, None)
    elif work.probe in core.settings.probes and not _walks(core, work.probe):
        _as_logged(core, work.probe)


def follow_cores(core: Core, place: str) -> None:
    """Put back the probes that a turning took out of a heap, once all its core probes are in again."""
    run = core.run_at(place)
    if run is not None and run.touched is not None:
        return  # the walk is worked out again first, which says which probes are in
    out = _out_of(core, place, with_cores=True)
    cores = core.cores_of(place)
    if out and all(core.in_service(probe) for probe in cores):
        outings = [core.state.outings.get(probe) for probe in cores]
        back = max((one.returned for one in outings if one is not None and one.returned is not None), default=None)
        for probe in out:
            _put_in(core, probe, back)


def forget_turning(core: Core, place: str) -> None:
    """Put back the probes that a turning took out of a heap that is gone."""
    for probe in _out_of(core, place, with_cores=True):
        _put_in(core, probe, None)


def lie_outside(core: Places, place: str) -> list[str]:
    """Return the probes of a place that somebody took out and that no walk follows."""
    return _out_of(core, place, with_cores=False)


def _out_of(core: Places, place: str, *, with_cores: bool) -> list[str]:
    outings = {probe: core.state.outings.get(probe) for probe in _others(core, place)}
    return [p for p, o in outings.items() if o is not None and o.out is not None and o.with_cores is with_cores]


def _walks(core: Places, probe: str) -> bool:
    """Return whether the walk of a heap follows a probe."""
    return is_core(core.settings.probes[probe]) and core.run_at(core.place_of(probe)) is not None


def _others(core: Places, place: str) -> list[str]:
    return [probe for probe, _ in core.probes_of(place) if not _walks(core, probe)]


def _as_logged(core: Core, probe: str) -> None:
    """Let a probe be in or out as its newest entry says."""
    works: list[Logged] = [one for one in (*core.state.works, *core.state.bed_works) if one.work.probe == probe]
    newest = max(works, key=lambda one: (one.work.time, one.at, one.row), default=None)
    out = newest is not None and newest.work.kind is WorkKind.PROBE_OUT and newest.work.place == core.place_of(probe)
    known = core.state.outings.get(probe)
    if newest is not None and out:
        if known is None or known.out != newest.work.time or known.with_cores:
            _take_out(core, probe, newest.work.time, with_cores=False)
    elif known is not None:
        back = newest.work.time if newest is not None and newest.work.kind is WorkKind.PROBE_IN else None
        if known.out is not None or known.returned != back:
            _put_in(core, probe, back)


def _take_out(core: Core, probe: str, time: int, *, with_cores: bool) -> None:
    known = core.state.outings.get(probe)
    if with_cores and known is not None and known.out is not None and not known.with_cores:
        return  # somebody took it out before, and only they put it back
    for key in [one for one in core.state.lines if one.split("/")[-1] == probe]:
        del core.state.lines[key]
    outing = core.state.outings[probe] = OutingState(with_cores=with_cores)
    go_out(outing, time)
    _set_aside(core, probe, core.place_of(probe))
    core.routes.pop(probe, None)


def _set_aside(core: Core, probe: str, place: str) -> None:
    """Let a probe's value count as a silent probe's, and end the alarms about the probe itself."""
    fall_quiet(core, probe, place)
    if place in core.settings.bins:
        bed_changes(core, place, core.bed(place).silent(probe, core.at))
    elif place in core.state.dangers and place in core.settings.piles:
        core.danger(place).silent(probe)
        danger_signals(core, place, core.danger(place), [])


def _put_in(core: Core, probe: str, back: int | None) -> None:
    """Put a probe back at an instant (UTC ms); None: it never was outside."""
    core.state.outings.pop(probe, None)
    if back is not None:
        pile = core.pile(core.place_of(probe))
        settle = (pile.thresholds if pile is not None else PileThresholds()).settle_ms
        core.state.outings[probe] = OutingState(returned=back, accepted_from=back + settle)
    core.routes.pop(probe, None)
    rearm(core, probe, anew=True)
