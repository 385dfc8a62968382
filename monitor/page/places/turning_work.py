"""Finds the earlier turning that counts as one with a turning just logged."""

from monitor.model.turnings import counted_firsts
from monitor.model.work import Work
from monitor.model.work_kinds import turned_at
from monitor.page.ports import Look


def counts_with(look: Look, work: Work) -> int | None:
    """Return the instant (UTC ms) of the turning that counts as one with a turning just logged; None if it counts by itself."""
    place = turned_at(work)
    if place is None:
        return None
    others = [entry.work.time for entry in look.works(place) if turned_at(entry.work) == place]
    first = [one for one in counted_firsts([*others, work.time]) if one <= work.time][-1]
    return first if first in others else None
