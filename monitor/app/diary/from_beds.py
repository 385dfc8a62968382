"""Feedings, lifts, harvests and screenings of worm beds: by each bed's plan, its depth, and what the log says was done."""

from collections.abc import Iterator

from monitor.app.beds import bed_look, bed_now, feedings_of, harvests_now
from monitor.app.console.measures import Measures
from monitor.app.diary.sources import Asked
from monitor.app.yard.yard_view import YardView
from monitor.diary import Due, PlannedFood, feed_due, harvest_due, lift_due, screen_due
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
        deep = f"it is {measures.depth(bed.build.depth_mm)} deep by the record"
        if bed.lift.due is not None:
            due = min(known, bed.lift.due) if bed.lift.step is Step.SUNK else bed.lift.due
            yield lift_due(place, due, known, f"{deep}: a lift of {measures.depth(LIFT_MM)} of bedding")
        if bed.harvest.due is not None:
            due = bed.harvest.due if harvested is not None else min(known, bed.harvest.due)
            layers = " to ".join(measures.depth(layer) for layer in AT_A_TIME_MM)
            yield harvest_due(place, due, known, f"{deep}: take {layers} from below")


def screenings(asked: Asked) -> Iterator[Due]:
    """Yield the second screening of each harvest whose fines rest."""
    for one in harvests_now(asked.store, asked.configuration)[0]:
        place, rested = one.harvest.work.place, one.rest_until
        if rested is None or place not in asked.settings.bins or "fines" not in one.figures.shares:
            continue
        due = screen_due(place, one.harvest.id, rested, asked.now)
        if due is not None:
            yield due
