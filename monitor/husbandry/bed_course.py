"""The course of a bed by the work log, since it was last emptied: its depth, its harvests, and the worms in it.

1. Depth: as last measured in a look; from there on lifts of a known thickness add to it and harvests take from it. What food
   adds and what settles nobody knows, so a depth is only sure where it was measured.
2. Worms: a sample of *worms* is those under one square foot; samples within a day are one sampling. A sample of *all worms* is
   the whole stock. Worms that were brought into the bed later are added, and those that went to another bed are taken off.
3. Worms that were picked out of its own harvest and put back were in it before: they only make up for what the harvest took.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from monitor.husbandry.stock import Weight, most_in_harvest, stock_by_cores
from monitor.model.amounts import UNITS, Amount, Dimension, known_amount
from monitor.model.harvest_names import WORMS, harvest_id, harvest_part, material_name
from monitor.model.times import DAY_MS
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import FILLS_BED, Material, declared

ALL_WORMS = "all worms"
"""The word for a sample that is the whole stock."""


@dataclass(frozen=True, slots=True)
class Layer:
    """A harvest: when, UTC ms; how thick, and how deep the bed was before, mm; None if unknown."""

    time: int
    layer_mm: float | None
    depth_mm: float | None


@dataclass(slots=True)
class BedCourse:
    """A bed since it was last emptied, or since the log begins.

    Attributes:
        begun: When something was first laid into it, UTC ms; None if the log does not say.
        depth_mm: Its depth; None if unknown.
        measured: When that was measured, UTC ms; None if it only follows from lifts.
        moved_since: Whether lifts or harvests came after the measuring.
        harvests: Its harvests in order.
        cores: The newest sampling: (when in UTC ms, grams under a square foot) of each sample.
        weighed: When the whole stock was weighed (UTC ms), and its grams; None if never.
        brought: Worms brought into it: (when in UTC ms, grams or None if nobody weighed them).
        taken: The same of worms that went into another bed.
        put_back: The same of worms out of its own harvests.
    """

    begun: int | None = None
    depth_mm: float | None = None
    measured: int | None = None
    moved_since: bool = False
    harvests: list[Layer] = field(default_factory=list)
    cores: list[tuple[int, float]] = field(default_factory=list)
    weighed: tuple[int, float] | None = None
    brought: list[tuple[int, float | None]] = field(default_factory=list)
    taken: list[tuple[int, float | None]] = field(default_factory=list)
    put_back: list[tuple[int, float | None]] = field(default_factory=list)


def bed_course(
    entries: Sequence[tuple[int, Work]], place: str, names: Collection[str], surface_mm2: float | None, now: int
) -> BedCourse:
    """Return the course of a bed.

    Args:
        entries: (number, work) of the entries that stand, of all places, in any order.
        place: The bin's id.
        names: People's names for it, in small letters, by which an origin can mean it; the id is one without saying.
        surface_mm2: Its surface in square millimetres, for volumes; None if unknown.
        now: The present, UTC ms; later entries do not count.
    """
    course, called = BedCourse(), {place.casefold(), *names}
    own = {harvest_id(number) for number, work in entries if work.kind is WorkKind.HARVESTED and work.place == place}
    for _, work in sorted(entries, key=lambda one: (one[1].time, one[0])):
        if work.time > now:
            break
        if work.place == place:
            if declared(work.kind).material is Material.ENDS:
                course = BedCourse()
            else:
                _take(course, work, own, surface_mm2)
        elif _is(work, WORMS) and work.kind in FILLS_BED and work.source.strip().casefold() in called:
            course.taken.append((work.time, _grams(work)))
    return course


def _take(course: BedCourse, work: Work, own: set[str], surface_mm2: float | None) -> None:
    first = course.begun is None
    if work.kind in FILLS_BED:
        course.begun = work.time if first else course.begun
    if work.kind in FILLS_BED and _is(work, WORMS):
        named = harvest_part(material_name(work))
        (course.put_back if named is not None and named[0] in own else course.brought).append((work.time, _grams(work)))
    elif work.kind is WorkKind.BEDDED:
        layer = _thickness(work, surface_mm2)
        if layer is not None and (course.depth_mm is not None or first):
            course.depth_mm, course.moved_since = (course.depth_mm or 0.0) + layer, True
    elif work.kind is WorkKind.HARVESTED:
        layer = _thickness(work, surface_mm2)
        course.harvests.append(Layer(work.time, layer, course.depth_mm))
        if course.depth_mm is not None:
            # Of a harvest of unknown thickness nobody knows what is left.
            course.depth_mm = None if layer is None else max(0.0, course.depth_mm - layer)
            course.moved_since = True
    elif work.kind is WorkKind.SAMPLED:
        _sample(course, work)
    elif work.depth and (depth := known_amount(work.depth, "")) is not None and depth.base:
        course.depth_mm, course.measured, course.moved_since = _exact(depth), work.time, False


def _sample(course: BedCourse, work: Work) -> None:
    grams = _grams(work)
    if grams is None:
        return
    if _is(work, WORMS):
        course.cores = [one for one in course.cores if work.time - one[0] <= DAY_MS] + [(work.time, grams)]
    elif _is(work, ALL_WORMS):
        course.weighed = work.time, grams


def _is(work: Work, what: str) -> bool:
    return material_name(work).casefold().rpartition("/")[2] == what


def _grams(work: Work) -> float | None:
    amount = known_amount(work.amount, work.measure, work.unit)
    return None if amount is None or amount.dimension is not Dimension.MASS else _exact(amount)


def _exact(amount: Amount) -> float:
    return float(amount.count * (UNITS[amount.unit].factor or 0))


def _thickness(work: Work, surface_mm2: float | None) -> float | None:
    """Return the thickness of a layer that was laid or harvested, mm; None where only a mass is known."""
    told = known_amount(work.depth, "")
    if told is not None and told.dimension is Dimension.LENGTH:
        return _exact(told)
    amount = known_amount(work.amount, work.measure, work.unit)
    if amount is None or amount.base is None:
        return None
    if amount.dimension is Dimension.LENGTH:
        return _exact(amount)
    if amount.dimension is Dimension.VOLUME and surface_mm2:
        return _exact(amount) * 1000 / surface_mm2
    return None


class Known(StrEnum):
    """The ways in which a stock is known."""

    SAMPLED = "by samples"
    WEIGHED = "by weighing"
    BROUGHT = "by what was brought"
    CONFIGURED = "by the configuration"


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """The worms in a bed.

    Attributes:
        known: How it is known.
        weight: The weight in grams, with the spread of the samples and what harvests may have taken.
        at: When it was sampled or weighed, UTC ms; None for the other two.
        cores: How many samples there were.
        lost_g: The most that harvests since took along and that was not put back, in grams: an estimate.
        unweighed: Whether worms came or went that nobody weighed.
    """

    known: Known
    weight: Weight
    at: int | None = None
    cores: int = 0
    lost_g: float = 0.0
    unweighed: bool = False


def stock_of(course: BedCourse, surface_mm2: float | None, configured_g: float | None) -> Stock | None:
    """Return the worms in a bed: by the newest sampling or weighing, else by the configuration, else by what was brought.

    Args:
        course: The course of the bed.
        surface_mm2: Its surface in square millimetres; without it no sample says anything.
        configured_g: The weight in the configuration, in grams; nobody knows of which day, so nothing is added to it.
    """
    base = _base(course, surface_mm2)
    if base is None and configured_g is not None:
        whole = Weight(configured_g, configured_g, configured_g)
        return Stock(known=Known.CONFIGURED, weight=whole)
    if base is None and not course.brought:
        return None
    known, weight, at, cores = base or (Known.BROUGHT, Weight(0, 0, 0), None, 0)
    moves = [one for one in (*course.brought, *course.taken) if at is None or one[0] > at]
    moved = _sum(course.brought, at) - _sum(course.taken, at)
    lost, left = 0.0, max(0.0, weight.usual + moved)
    for one in course.harvests:
        if (at is None or one.time > at) and one.layer_mm is not None and one.depth_mm:
            lost += most_in_harvest(left - lost, one.layer_mm, one.depth_mm)
    lost = max(0.0, lost - _sum(course.put_back, at))
    return Stock(
        known=known,
        weight=Weight(
            max(0.0, weight.least + moved - lost), max(0.0, weight.usual + moved), max(0.0, weight.most + moved)
        ),
        at=at,
        cores=cores,
        lost_g=lost,
        unweighed=any(grams is None for _, grams in moves),
    )


def _base(course: BedCourse, surface_mm2: float | None) -> tuple[Known, Weight, int, int] | None:
    sampled = course.cores[-1][0] if course.cores and surface_mm2 else None
    if course.weighed is not None and (sampled is None or course.weighed[0] >= sampled):
        grams = course.weighed[1]
        return Known.WEIGHED, Weight(grams, grams, grams), course.weighed[0], 0
    if sampled is None or not surface_mm2:
        return None
    cores = [grams for _, grams in course.cores]
    return Known.SAMPLED, stock_by_cores(cores, surface_mm2), sampled, len(cores)


def _sum(moves: Sequence[tuple[int, float | None]], since: int | None) -> float:
    return sum(grams or 0.0 for time, grams in moves if since is None or time > since)
