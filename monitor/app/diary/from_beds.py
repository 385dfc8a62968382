"""Feedings of worm beds: by each bed's plan, and by what the log says it was fed."""

from collections.abc import Iterator

from monitor.app.beds import bed_now, feedings_of
from monitor.app.console.measures import Measures
from monitor.app.diary.sources import Asked
from monitor.app.yard.yard_view import YardView
from monitor.diary import Due, PlannedFood, feed_due
from monitor.husbandry import feeding_plan
from monitor.model.work_entry import is_us


def feedings(asked: Asked) -> Iterator[Due]:
    """Yield the next feeding of each bed that has a plan with food in it; of the others `feeding` says why not."""
    measures = Measures(is_us(asked.settings), asked.configuration.containers)
    view = YardView(asked.engine, asked.store, None, None, asked.now, [])
    for place in asked.settings.bins:
        if place not in asked.configuration.beds:
            continue  # the file has gained or lost the bin since the settings were taken over
        bed = bed_now(view, asked.configuration, place, asked.now)
        plan = feeding_plan(bed)
        if not plan.planned or not plan.week_g or not plan.feeds:
            continue
        food = PlannedFood(
            place=place,
            week_g=plan.week_g,
            feeds=plan.feeds,
            fed=feedings_of(asked.store, asked.configuration, place, asked.now),
            begun=None if bed.age_ms is None else asked.now - bed.age_ms,
        )
        yield feed_due(food, asked.now, measures.mass)
