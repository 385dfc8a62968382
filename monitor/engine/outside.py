"""Probes that lie outside and that no walk follows: those of bins and the air; a heap's for moisture, oxygen, its surface.

1. One that is out is not judged: its readings are kept and go to nobody, what was told of it is over, and it is not waited for.
2. It is out until `probe in`. One that a turning took out is back with the last of the heap's core probes; a heap that has no
   core probe leaves its others in, since nobody would say when they are back.
3. What measures the core of a heap is the walk's (`piles.outing`): it is back when it is warm again.
"""

from monitor.engine.core import Core, is_core
from monitor.engine.silence import leave, rearm
from monitor.engine.state import Logged
from monitor.model.work import Work, WorkKind
from monitor.piles import OutingState, go_out


def follow_work(core: Core, work: Work) -> None:
    """Take in that a probe was put in or taken out, or that a heap was turned, for those that no walk follows."""
    if work.kind is WorkKind.TURNED:
        if core.cores_of(work.place):
            for probe in _others(core, work.place):
                _take_out(core, probe, work.time, with_cores=True)
    elif work.probe in core.settings.probes and not _walks(core, work.probe):
        _as_logged(core, work.probe)


def unfollow_work(core: Core, work: Work) -> None:
    """Take in that such a piece of work was taken back; it is in no log any more."""
    if work.kind is WorkKind.TURNED:
        for probe in _others(core, work.place):
            outing = core.state.outings.get(probe)
            if outing is not None and outing.with_cores and outing.out == work.time:
                _put_in(core, probe)
    elif work.probe in core.settings.probes and not _walks(core, work.probe):
        _as_logged(core, work.probe)


def follow_cores(core: Core, place: str) -> None:
    """Put back what a turning took out of a heap, once all its core probes are in again."""
    run = core.run_at(place)
    if run is not None and run.touched is not None:
        return  # who is in is worked out first
    out = [p for p in _others(core, place) if (o := core.state.outings.get(p)) is not None and o.with_cores]
    if out and all(core.in_service(probe) for probe in core.cores_of(place)):
        for probe in out:
            _put_in(core, probe)


def lie_outside(core: Core, place: str) -> list[str]:
    """Return the probes of a place that somebody took out, and that no walk follows, by id."""
    return [p for p in _others(core, place) if (o := core.state.outings.get(p)) is not None and not o.with_cores]


def _walks(core: Core, probe: str) -> bool:
    """Tell whether the walk of a heap follows a probe."""
    return is_core(core.settings.probes[probe]) and core.run_at(core.place_of(probe)) is not None


def _others(core: Core, place: str) -> list[str]:
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
        _put_in(core, probe)


def _take_out(core: Core, probe: str, time: int, *, with_cores: bool) -> None:
    known = core.state.outings.get(probe)
    if with_cores and known is not None and known.out is not None and not known.with_cores:
        return  # somebody took it out before; that stands
    leave(core, probe, core.place_of(probe))
    for key in [one for one in core.state.lines if one.split("/")[-1] == probe]:
        del core.state.lines[key]
    outing = core.state.outings[probe] = OutingState(with_cores=with_cores)
    go_out(outing, time)
    core.routes.pop(probe, None)


def _put_in(core: Core, probe: str) -> None:
    core.state.outings.pop(probe, None)
    core.routes.pop(probe, None)
    rearm(core, probe, anew=True)
