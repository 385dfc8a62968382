"""Asks about the name of a heap that never lay on its pile: a slip in the day, and what was hot no longer counts as hot."""

import re
from collections.abc import Collection, Iterator

from monitor.model.harvest_names import screened_from
from monitor.model.mix_parts import parts_of
from monitor.model.settings import Settings
from monitor.model.work import Work

_HEAP = re.compile(r"(.+?)-[0-9]{4}-[0-9]{2}-[0-9]{2}(-[0-9]+)?")


def heap_name_doubts(settings: Settings, heaps: Collection[str], work: Work) -> Iterator[str]:
    """Yield a question for each name in an entry that has the form of a heap of a pile and is none.

    Args:
        settings: The settings in force.
        heaps: The names of all heaps that ever lay in the yard.
        work: The entry.
    """
    known = {one.casefold(): one for one in heaps}
    names = [one.name for one in parts_of(work.parts)] or re.split(r"\s*,\s*", work.what)
    for name in names:
        plain = (screened_from(name) or name).strip().casefold()
        found = _HEAP.fullmatch(plain)
        piles = {one.casefold() for one in settings.piles}
        if found is None or found[1] not in piles or plain in known:
            continue
        there = [one for low, one in known.items() if low.startswith(f"{found[1]}-")]
        which = f"; the newest there is {there[-1]}" if there else ""
        yield f"There was no heap {plain}{which}. Is the name right?"
