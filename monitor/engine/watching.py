"""Places that lost their last thermometer: a heap or bin that was watched and now is not, told until one is back.

A place that never had one is nobody's surprise: it is read by hand, or by nobody, and the summaries count it so. Probes out
for a turning are still the heap's, and are reminded of by `outings`.
"""

from monitor.engine.core import Core, is_core
from monitor.model.units import Quantity

UNWATCHED = "unwatched"


def thermometers(core: Core, place: str) -> list[str]:
    """Return the probes that tell how warm a place is, by id: those in the core of a heap, all of a bin."""
    bin_ = place in core.settings.bins
    return [p for p, c in core.probes_of(place) if is_core(c) or (bin_ and c.quantity is Quantity.TEMPERATURE)]


def _is_empty(core: Core, place: str) -> bool:
    if place in core.settings.bins:
        return core.bed(place).state.emptied_at is not None
    return core.run_at(place) is None


def follow_watch(core: Core) -> None:
    """Begin or end `unwatched` for each place, after probes, heaps or settings may have moved."""
    if core.quiet:
        return
    known = core.state.thermometers
    for place in (*core.settings.piles, *core.settings.bins):
        here = thermometers(core, place)
        if here:
            known[place] = here[0]
            core.ends(place, UNWATCHED)
        elif _is_empty(core, place):
            known.pop(place, None)
            core.ends(place, UNWATCHED)
        elif place in known:
            probe = known.pop(place)
            core.begins(place, UNWATCHED, since=core.at, last=core.at, probe=probe)
    for place in [one for one in known if one not in core.settings.piles and one not in core.settings.bins]:
        del known[place]
