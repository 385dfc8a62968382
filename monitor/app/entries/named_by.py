"""Finds the entries that name what another entry brought: a delivery, a harvest, a lot.

Nothing refuses to take such an entry back, but what names it would then lead nowhere: a lot of a harvest that is no longer
in the record is in no list and in no recall.
"""

import re
from collections.abc import Iterable

from monitor.app.entries.entry_log import Numbered
from monitor.model.harvest_names import harvest_part, material_name
from monitor.model.mix_parts import parts_of
from monitor.model.work import Work, WorkKind


def naming_question(entries: Iterable[Numbered], found: Numbered) -> str:
    """Return the question before an entry is taken back that others name; "" if none does."""
    called = _called(found)
    numbers = [
        one.number
        for one in entries
        if called and one is not found and not one.undone and one.work is not None and called in _names(one.work)
    ]
    if not numbers:
        return ""
    told = ", ".join(map(str, numbers[:-1]))
    who = f"Entries {told} and {numbers[-1]} name" if told else f"Entry {numbers[-1]} names"
    return (
        f"{who} {called}, which would no longer be in the record, nor what was made of it. Take it back all the same?"
    )


def _called(found: Numbered) -> str:
    """Return the name by which other entries can call what an entry brought, in small letters; "" for none."""
    work = found.work
    if work is None:
        return ""
    letter = {WorkKind.DELIVERY: "d", WorkKind.HARVESTED: "h"}.get(work.kind)
    if letter is not None:
        return f"{letter}{found.number}"
    return work.lot.casefold() if work.kind is WorkKind.LOT else ""


def _names(work: Work) -> set[str]:
    """Return everything by name that an entry uses, in small letters: deliveries, harvests (also by their parts), lots."""
    texts = [
        *(one.name for one in parts_of(work.parts)),
        material_name(work),
        *re.split(r"\s*,\s*", work.what),
        work.lot,
    ]
    plain = {text.strip().casefold() for text in texts if text}
    return plain | {part[0] for text in plain if (part := harvest_part(text)) is not None}
