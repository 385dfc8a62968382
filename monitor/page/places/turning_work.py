"""Finds the earlier turning that counts as one with a turning just logged."""

from monitor.model.turnings import counted_firsts
from monitor.model.work import Work
from monitor.model.work_kinds import Material, declared, is_turning
from monitor.page.ports import Look


def counts_with(look: Look, work: Work) -> int | None:
    """Return the instant (UTC ms) of the turning that counts as one with a turning just logged; None if it counts by itself."""
    if not is_turning(work):
        return None
    place = _lies_then(work)
    others = [
        entry.work.time for entry in look.works(place) if is_turning(entry.work) and _lies_then(entry.work) == place
    ]
    first = [one for one in counted_firsts([*others, work.time]) if one <= work.time][-1]
    return first if first in others else None


def _lies_then(work: Work) -> str:
    return work.to if declared(work.kind).material is Material.GOES else work.place
