"""The routes of all probes: looked up once and kept until settings or places change, since readings are many."""

from monitor.conditioning import comparable
from monitor.engine.context.core import Core
from monitor.engine.context.places import Places, is_core
from monitor.engine.context.route import NEVER_HOT, Goal, Route
from monitor.model.settings import AMBIENT, Probe
from monitor.model.units import Quantity


def route(core: Core, probe: str) -> Route:
    """Return a configured probe's route."""
    found = core.routes.get(probe)
    if found is None:
        found = core.routes[probe] = _route(core, probe)
    return found


def _route(core: Places, probe: str) -> Route:
    configured = core.settings.probes[probe]
    found = Route(
        place=core.place_of(probe),
        quantity=configured.quantity,
        since=max((one.time for one in core.state.carried if one.probe == probe), default=0),
        fit=0,
        comparable_from=_comparable_from(configured),
        watch=core.watch(probe),
    )
    _lead(core, found, configured)
    outing = core.state.outings.get(probe)
    if outing is not None and (found.goal is not Goal.CORE or core.run_at(found.place) is None):
        # No walk follows it (`probes_outside`): readings from outside concern no place, and those right after do not count yet.
        found.fit = outing.accepted_from or 0
        if outing.out is not None:
            found.goal, found.bed, found.danger, found.hot_milli = Goal.NOBODY, None, None, NEVER_HOT
    return found


def _lead(core: Places, found: Route, configured: Probe) -> None:
    """Point a route to the taker of its readings at its place."""
    place, warm = found.place, found.quantity is Quantity.TEMPERATURE
    if place == AMBIENT:
        found.goal = Goal.AMBIENT if warm else Goal.NOBODY
    elif place in core.settings.bins:
        bed = core.bed(place)
        if bed.state.emptied_at is None:  # what probes say in an empty bin is of no bed
            found.goal, found.bed = Goal.BED, bed
    elif place in core.settings.piles:
        found.goal = Goal.PILE_LINE
        if warm:
            found.goal = Goal.CORE if is_core(configured) else Goal.PILE
            found.danger = core.danger(place)
            found.hot_milli = core.settings.piles[place].thresholds.lost_above_milli_c


def _comparable_from(configured: Probe) -> int | None:
    """Return from when on a probe's readings can be compared with limits, UTC ms, or None.

    A moisture probe may become comparable with its first calibration; for all others the answer never changes.
    """
    if comparable(configured, 0):
        return 0
    starts = sorted(one.start or 0 for one in configured.calibrations)
    return next((start for start in starts if comparable(configured, start)), None)
