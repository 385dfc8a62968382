"""Feedings, lifts and harvests of worm beds: by each bed's plan, its depth, and what the log says was done."""

from collections.abc import Iterator

from monitor.app.beds import bed_look, bed_now, feedings_of
from monitor.app.console.measures import Measures
from monitor.app.diary.sources import Asked
from monitor.app.yard.yard_view import YardView
from monitor.diary import Due, PlannedFood, feed_due, harvest_due, lift_due
from monitor.husbandry import AT_A_TIME_MM, LIFT_MM, Step, feeding_plan
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


def builds(asked: Asked) -> Iterator[Due]:
    """Yield the next lift and the next harvest of each bed whose depth somebody measured."""
    measures = Measures(is_us(asked.settings), asked.configuration.containers)
    for place in asked.settings.bins:
        if place not in asked.configuration.beds:
            continue
        bed = bed_look(asked.store, asked.configuration, place, asked.now)
        harvested = bed.build.harvests[-1][0] if bed.build.harvests else None
        measured = bed.course.measured or bed.build.begun
        # What is due by its depth has been so since that was measured, not since somebody looks.
        known = max((at for at in (harvested, measured) if at is not None), default=asked.now)
        if bed.build.depth_mm is None:
            continue
        deep = f"it is {measures.layer(bed.build.depth_mm)} deep by the record"
        if bed.lift.due is not None:
            due = min(known, bed.lift.due) if bed.lift.step is Step.SUNK else bed.lift.due
            yield lift_due(place, due, known, f"{deep}: a lift of {measures.layer(LIFT_MM)} of bedding")
        if bed.harvest.due is not None:
            due = bed.harvest.due if harvested is not None else min(known, bed.harvest.due)
            layers = " to ".join(measures.layer(layer) for layer in AT_A_TIME_MM)
            yield harvest_due(place, due, known, f"{deep}: take {layers} from below")
