"""The harvests of worm beds as the work log has them: each with its screenings, and with what went back into a bed.

1. A harvest's id is its bin and the local day, as a batch's is; a second one of a day has a number behind it.
2. A screening belongs to the harvest that it names, else to the newest of its bin. Named as fines of one, or four weeks and
   more after the first, it is a screening of the fines that rested.
3. What goes back into a bed names the harvest as its origin.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from zoneinfo import ZoneInfo

from monitor.husbandry.screening import REST_MS
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import FRACTIONS

WORMS = "worms"
"""The word for worms as a material."""
GOES_BACK = (*FRACTIONS, WORMS)
"""Materials of a harvest that go back into a bed."""


@dataclass(slots=True)
class Harvest:
    """A harvest.

    Attributes:
        id: Its id, such as `b1-2026-07-04`.
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


def harvests_of(works: Sequence[Work], bins: Collection[str], zone: ZoneInfo) -> tuple[list[Harvest], list[Work]]:
    """Return all harvests in order, and the screenings at bins that belong to none of them.

    Args:
        works: The work log as it stands, of all places, in any order.
        bins: Ids of the bins.
        zone: The yard's time zone, for the days in their ids.
    """
    ordered = sorted(works, key=lambda work: work.time)
    found: dict[str, Harvest] = {}
    for work in ordered:
        if work.kind is WorkKind.HARVESTED:
            one = Harvest(_new_id(work, zone, found), work)
            found[one.id.casefold()] = one
    strays = []
    for work in ordered:
        if work.kind is WorkKind.SCREENED:
            harvest = _meant(work, found)
            if harvest is not None:
                (harvest.again if _of_fines(work, harvest) else harvest.screenings).append(work)
            elif work.place in bins:
                strays.append(work)
        elif work.source and work.what.strip().casefold() in GOES_BACK:
            harvest = found.get(work.source.strip().casefold())
            if harvest is not None:
                harvest.returned.append(work)
    return list(found.values()), strays


def _new_id(work: Work, zone: ZoneInfo, taken: dict[str, Harvest]) -> str:
    day = datetime.fromtimestamp(work.time / 1000, zone).date().isoformat()
    name, count = f"{work.place}-{day}", 1
    while name.casefold() in taken:
        count += 1
        name = f"{work.place}-{day}-{count}"
    return name


def _meant(work: Work, found: dict[str, Harvest]) -> Harvest | None:
    if work.what.strip():
        return found.get(work.what.split()[-1].casefold())
    before = [one for one in found.values() if one.work.place == work.place and one.work.time <= work.time]
    return before[-1] if before else None


def _of_fines(work: Work, harvest: Harvest) -> bool:
    if FRACTIONS[0] in work.what.casefold().split()[:-1]:
        return True
    return bool(harvest.screenings) and work.time - harvest.screenings[0].time >= REST_MS[0]
