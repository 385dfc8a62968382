"""The care of worm beds: how much food, in which layers, how fast the stock grows, and what a harvest yields."""

from monitor.husbandry.feeding import APPETITE_A_WEEK, FOOD_KG_M3, BedNow, FeedingPlan, Food, Limit, feeding_plan
from monitor.husbandry.harvests import WORMS, Harvest, harvests_of
from monitor.husbandry.screening import REST_MS, OnScreen, Screened, Share, dry_to, screened, together
from monitor.husbandry.stock import days_to_grow
