"""The care of worm beds: how much food, in which layers, how the bed is built up, its stock, and what a harvest yields."""

from monitor.husbandry.bed_build import (
    AT_A_TIME_MM,
    BELOW_RIM_MM,
    KEEP_MM,
    LIFT_MM,
    BedBuild,
    NextStep,
    Step,
    next_harvest,
    next_lift,
    residence_days,
)
from monitor.husbandry.bed_course import ALL_WORMS, BedCourse, Known, Stock, bed_course, stock_of
from monitor.husbandry.feeding import (
    APPETITE_A_WEEK,
    FOOD_KG_M3,
    SURFACE_G_M2,
    BedNow,
    FeedingPlan,
    Food,
    Limit,
    feeding_plan,
)
from monitor.husbandry.harvests import Harvest, harvests_of
from monitor.husbandry.screening import REST_MS, OnScreen, Screened, Share, dry_to, screened, together
from monitor.husbandry.stock import CORES, MOST_G_MM2, days_to_grow, weight_of
