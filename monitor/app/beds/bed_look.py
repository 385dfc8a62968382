"""A bed as the log and the configuration have it: its depth, its worms, its next lift and harvest."""

from dataclasses import dataclass

from monitor.app.entries.entry_log import entry_log
from monitor.configuration import Configuration
from monitor.husbandry import (
    BedBuild,
    BedCourse,
    NextStep,
    Stock,
    bed_course,
    next_harvest,
    next_lift,
    residence_days,
    stock_of,
)
from monitor.journal import Store
from monitor.model.work import Work
from monitor.model.work_kinds import FILLS_BED, Material, declared


@dataclass(frozen=True, slots=True, kw_only=True)
class BedLook:
    """A bed.

    Attributes:
        place: The bin.
        surface_mm2: Its surface in square millimetres; None if unknown.
        course: Its course by the log.
        stock: Its worms; None if nobody knows.
        build: The bed as it is built, by log and configuration.
        lift: Its next lift of bedding.
        harvest: Its next harvest.
        residence_days: How many days food stays in it; None if unknown.
    """

    place: str
    surface_mm2: int | None
    course: BedCourse
    stock: Stock | None
    build: BedBuild
    lift: NextStep
    harvest: NextStep
    residence_days: float | None


def bed_look(store: Store, configuration: Configuration, place: str, now: int) -> BedLook:
    """Return a bed as it is now.

    Args:
        store: The journal.
        configuration: The configuration, which has its size.
        place: The bin.
        now: The present, UTC ms.
    """
    size, settings = configuration.beds[place], configuration.settings
    log = entry_log(store, [*settings.piles, *settings.bins])
    entries = [(one.number, one.work) for one in log if one.work is not None and not one.undone]
    works = [work for _, work in entries]
    names = {settings.place_name(place).casefold()}
    course, empty = bed_course(entries, place, names, size.surface_mm2, now), _is_empty(works, place, now)
    depth = size.depth_mm if course.depth_mm is None and not empty else course.depth_mm
    build = BedBuild(
        kind=size.kind,
        depth_mm=None if depth is None else round(depth),  # a tenth of a millimetre must not put a lift off
        rim_mm=size.rim_mm,
        begun=course.begun if size.begun is None else size.begun,
        empty=empty,
        harvests=[(one.time, one.layer_mm) for one in course.harvests],
    )
    return BedLook(
        place=place,
        surface_mm2=size.surface_mm2,
        course=course,
        stock=None if empty else stock_of(course, size.surface_mm2, size.worms_g),
        build=build,
        lift=next_lift(build, now),
        harvest=next_harvest(build, now),
        residence_days=residence_days(build),
    )


def _is_empty(works: list[Work], place: str, now: int) -> bool:
    empty = False
    for work in sorted(works, key=lambda one: one.time):
        if work.place == place and work.time <= now:
            empty = declared(work.kind).material is Material.ENDS or (empty and work.kind not in FILLS_BED)
    return empty
