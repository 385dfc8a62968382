"""The harvests of worm beds as the work log has them: each with its screenings, and with what went back into a bed.

1. A harvest is called by the number of its entry, `h31`; its parts are `h31/fines` and so on (`model.harvest_names`).
2. A screening belongs to the harvest that it names, else to the newest of its bin. Named as fines of one, or four weeks and
   more after the first, it is a screening of the fines that rested.
3. What goes back into a bed names the part, or the harvest as its origin.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field

from monitor.husbandry.screening import REST_MS
from monitor.model.harvest_names import harvest_id, harvest_part, material_name
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import FRACTIONS, declared


@dataclass(slots=True)
class Harvest:
    """A harvest.

    Attributes:
        id: Its name, such as `h31`.
        work: Its entry.
        screenings: The screenings of it, in order.
        again: Those of its fines after their rest.
        returned: Entries by which a part of it went into a bed, in order.
    """

    id: str
    work: Work
    screenings: list[Work] = field(default_factory=list)
    again: list[Work] = field(default_factory=list)
    returned: list[Work] = field(default_factory=list)


def harvests_of(entries: Sequence[tuple[int, Work]], bins: Collection[str]) -> tuple[list[Harvest], list[Work]]:
    """Return all harvests in order, and the screenings at bins that belong to none of them.

    Args:
        entries: (number, work) of the entries that stand, of all places, in any order.
        bins: Ids of the bins.
    """
    ordered = sorted(entries, key=lambda one: (one[1].time, one[0]))
    found = {
        harvest_id(number): Harvest(harvest_id(number), work)
        for number, work in ordered
        if work.kind is WorkKind.HARVESTED
    }
    strays = []
    for _, work in ordered:
        if work.kind is WorkKind.SCREENED:
            harvest = _meant(work, found)
            if harvest is not None:
                (harvest.again if _of_fines(work, harvest) else harvest.screenings).append(work)
            elif work.place in bins:
                strays.append(work)
        elif declared(work.kind).fills and (named := harvest_part(material_name(work))) is not None and named[1]:
            harvest = found.get(named[0])
            if harvest is not None:
                harvest.returned.append(work)
    return list(found.values()), strays


def _meant(work: Work, found: dict[str, Harvest]) -> Harvest | None:
    if work.what.strip():
        named = harvest_part(work.what)
        return None if named is None else found.get(named[0])
    before = [one for one in found.values() if one.work.place == work.place and one.work.time <= work.time]
    return before[-1] if before else None


def _of_fines(work: Work, harvest: Harvest) -> bool:
    named = harvest_part(work.what)
    if named is not None and named[1] == FRACTIONS[0]:
        return True
    return bool(harvest.screenings) and work.time - harvest.screenings[0].time >= REST_MS[0]
