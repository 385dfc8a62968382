"""The food of a bed for a week: the lesser of what its worms eat and what its surface takes, and less while it is not fit.

1. Worms eat half of their weight a day. A surface takes 1 lb/ft² (4.88 kg/m²) of wet food a week; wet pressing residues lie in
   layers of at most ½ in, and food that was composted before in layers of at most 1 in, the next when the last is gone.
2. Warmth, by the bed's mean of three days, straight between the points: nothing below 40 °F and from 85 °F on, everything from
   68 to 77 °F. Damp: no wet food above 85 %. Age: a quarter in the first fortnight, half to the end of week 6.
3. While the bed has an alarm of its worms, its heat or its cold there is no food, nor while a reading that tells of now is at
   85 °F or above, whatever the mean says. An alarm against which a newer reading by hand speaks forbids nothing. A bad smell,
   or a squeeze that runs, forbids wet food.
4. Where something is not known that decides, there is no plan, and the reason says so: a guess would feed a bed that may be
   cooking.

Source: appetite, surface and layers are common practice, no published source; the courses of warmth and age are ours.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from monitor.model.times import DAY_MS
from monitor.model.units import MICRO, to_milli

APPETITE_A_WEEK = 0.5 * 7
"""The food that worms eat in a week, in their own weight."""
SURFACE_G_M2 = 453.59237 / 0.09290304
FOOD_KG_M3 = 500.0
"""The loose density of kitchen food, kg/m³; from memory."""
TOO_WET_MILLI_PCT = 85_000
FEEDS_A_WEEK, MOST_FEEDS = 2, 7
LEAST_G, ONE_FEED_G = 50, 500
"""Less than this a week is nothing, and up to this is given at once. Ours."""


class Food(StrEnum):
    """Kinds of food."""

    FRESH = "fresh"
    COMPOSTED = "composted"
    PRESSED = "pressed"

    @property
    def layer_mm(self) -> float | None:
        """The thickest layer at a time, mm; None where the week's food is thin enough anyhow."""
        return {Food.FRESH: None, Food.COMPOSTED: 25.4, Food.PRESSED: 12.7}[self]

    @property
    def wet(self) -> bool:
        """Whether it brings water."""
        return self is not Food.COMPOSTED


_WARMTH: tuple[tuple[int, float], ...] = tuple(
    (to_milli(fahrenheit * MICRO, "[degF]"), share)
    for fahrenheit, share in ((40, 0.0), (50, 0.3), (60, 0.7), (68, 1.0), (77, 1.0), (82, 0.6), (85, 0.0))
)
"""The share of all food by the bed's temperature, thousandths of °C, straight between the points."""
_AGES: tuple[tuple[int, float], ...] = ((14 * DAY_MS, 0.25), (42 * DAY_MS, 0.5))
"""The share of all food until an age of the bed, ms."""


class Limit(StrEnum):
    """Why a bed gets less than its worms would eat, or nothing at all."""

    SURFACE = "surface"
    COLD = "cold"
    WARM = "warm"
    WET = "wet"
    ALARM = "alarm"
    HOT_NOW = "hot now"
    SMELL = "smell"
    YOUNG = "young"
    NO_WORMS = "no worms"
    NO_SURFACE = "no surface"
    NO_TEMPERATURE = "no temperature"
    EMPTY = "empty"
    NOT_BEGUN = "not begun"


@dataclass(frozen=True, slots=True, kw_only=True)
class BedNow:
    """A bed as it is now; None where nobody knows.

    Attributes:
        surface_mm2: Its surface in square millimetres.
        worms_g: The weight of its worms.
        temperature_milli_c: Its mean of three days, thousandths of °C.
        moisture_milli_pct: Its moisture, thousandths of a percent.
        age_ms: Since when a bed lies there; None counts as grown, below 0 it is still to be begun.
        empty: Whether nothing lies in it by the log.
        hottest_milli_c: The hottest of the readings that tell of now.
        hottest_age_ms: How old that is.
        hottest_by_hand: Whether a person took it.
        alarms: People's names for its open alarms that forbid all food.
        outlived: Those that only the last word of a silent probe holds open while a reading by hand since says otherwise.
        runs: Whether water ran from a handful when somebody squeezed it last.
        smell: Its smell when somebody looked last, if it is a bad one; else "".
    """

    surface_mm2: int | None
    worms_g: int | None
    temperature_milli_c: int | None
    moisture_milli_pct: int | None = None
    age_ms: int | None = None
    empty: bool = False
    hottest_milli_c: int | None = None
    hottest_age_ms: int = 0
    hottest_by_hand: bool = False
    alarms: tuple[str, ...] = ()
    outlived: tuple[str, ...] = ()
    runs: bool = False
    smell: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedingPlan:
    """The food of a week.

    Attributes:
        week_g: In all.
        feeds: In how many parts.
        layer_mm: The layer of each part over the whole surface.
        appetite_g: The worms' appetite for a week; None if unknown.
        surface_g: The most wet food that the surface takes in a week; None for dry food, or if it is unknown.
        shares: The limits that apply, each with the share of food that it leaves; 0 where it forbids all.
    """

    week_g: int
    feeds: int
    layer_mm: float
    appetite_g: int | None
    surface_g: int | None
    shares: tuple[tuple[Limit, float], ...]

    @property
    def planned(self) -> bool:
        """Whether there is a plan; to feed nothing is one, unless something is not known."""
        unknown = {Limit.NO_WORMS, Limit.NO_SURFACE, Limit.NO_TEMPERATURE, Limit.EMPTY, Limit.NOT_BEGUN}
        return not unknown & {limit for limit, _ in self.shares}


def feeding_plan(bed: BedNow, food: Food = Food.FRESH) -> FeedingPlan:
    """Return the food of a bed for a week.

    Args:
        bed: The bed.
        food: The kind of food.

    Returns:
        The plan; where something is unknown, it has no food and says what is missing.
    """
    surface_m2 = (bed.surface_mm2 or 0) / 1e6
    appetite = None if bed.worms_g is None else bed.worms_g * APPETITE_A_WEEK
    surface = surface_m2 * SURFACE_G_M2 if bed.surface_mm2 is not None and food.wet else None
    shares = _forbidden(bed) or _missing(bed)
    if not shares:
        assert appetite is not None
        shares += [(Limit.SURFACE, 1.0)] if surface is not None and surface < appetite else []
        shares += _fitness(bed, food)
    # What is not known counts as nothing; its share is 0 too.
    week = math.prod((min(appetite or 0.0, math.inf if surface is None else surface), *(share for _, share in shares)))
    if week < LEAST_G:
        week = 0.0
    if food.layer_mm is not None:
        # However hungry they are, a layer goes on when the last is gone.
        week = min(week, MOST_FEEDS * food.layer_mm * surface_m2 * FOOD_KG_M3)
    feeds, layer = _parts(week, surface_m2, food)
    return FeedingPlan(
        week_g=round(week),
        feeds=feeds,
        layer_mm=layer,
        appetite_g=None if appetite is None else round(appetite),
        surface_g=None if surface is None else round(surface),
        shares=tuple(shares),
    )


def _forbidden(bed: BedNow) -> list[tuple[Limit, float]]:
    found = [(Limit.EMPTY, 0.0)] if bed.empty else []
    found += [(Limit.NOT_BEGUN, 0.0)] if bed.age_ms is not None and bed.age_ms < 0 else []
    found += [(Limit.ALARM, 0.0)] if bed.alarms else []
    hot = bed.hottest_milli_c is not None and bed.hottest_milli_c >= _WARMTH[-1][0]
    return [*found, *([(Limit.HOT_NOW, 0.0)] if hot else [])]


def _missing(bed: BedNow) -> list[tuple[Limit, float]]:
    known = (
        (bed.worms_g, Limit.NO_WORMS),
        (bed.surface_mm2, Limit.NO_SURFACE),
        (bed.temperature_milli_c, Limit.NO_TEMPERATURE),
    )
    return [(limit, 0.0) for value, limit in known if value is None]


def _fitness(bed: BedNow, food: Food) -> list[tuple[Limit, float]]:
    assert bed.temperature_milli_c is not None
    found = []
    warmth = _share_at(bed.temperature_milli_c)
    if warmth < 1:
        found.append((Limit.COLD if bed.temperature_milli_c < _WARMTH[3][0] else Limit.WARM, warmth))
    damp = bed.moisture_milli_pct
    if food.wet and (bed.runs or (damp is not None and damp > TOO_WET_MILLI_PCT)):
        found.append((Limit.WET, 0.0))
    if food.wet and bed.smell:
        found.append((Limit.SMELL, 0.0))
    ages = [share for until, share in _AGES if bed.age_ms is not None and bed.age_ms < until]
    return [*found, *((Limit.YOUNG, share) for share in ages[:1])]


def _share_at(milli_c: int) -> float:
    for (low, below), (high, above) in pairwise(_WARMTH):
        if milli_c < high:
            return max(0.0, below + (above - below) * (milli_c - low) / (high - low))
    return 0.0


def _parts(week_g: float, surface_m2: float, food: Food) -> tuple[int, float]:
    """Return in how many parts a week's food is given, and the layer of each in mm."""
    if not week_g:
        return 0, 0.0
    whole_mm = week_g / FOOD_KG_M3 / surface_m2
    feeds = FEEDS_A_WEEK if week_g > ONE_FEED_G else 1
    while food.layer_mm is not None and feeds < MOST_FEEDS and whole_mm / feeds > food.layer_mm:
        feeds += 1
    return feeds, whole_mm / feeds
