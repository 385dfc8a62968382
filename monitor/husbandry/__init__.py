"""The care of worm beds: how much food, in which layers, and how fast the stock grows."""

from monitor.husbandry.feeding import APPETITE_A_WEEK, FOOD_KG_M3, BedNow, FeedingPlan, Food, Limit, feeding_plan
from monitor.husbandry.stock import days_to_grow
