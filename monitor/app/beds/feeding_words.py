"""A feeding plan in words and as JSON: how much, in how many parts, and why no more."""

from collections.abc import Iterator
from typing import Any

from monitor.app.console.measures import Measures
from monitor.husbandry import BedNow, FeedingPlan, Limit
from monitor.model.units import plain_number, show_percent, show_temperature
from monitor.notices import say_span

_MISSING = {
    Limit.NO_WORMS: "the weight of its worms is unknown; sample them (`heaptender bed {0}` says how), or configure it "
    '([bins.{0}] worms = "4 lb")',
    Limit.NO_SURFACE: 'its surface is unknown; write it into the configuration ([bins.{0}] surface = "8 ft2")',
    Limit.NO_TEMPERATURE: "nothing has measured its warmth for three days; read it by hand and log that",
    Limit.EMPTY: "it is empty by the log",
    Limit.NOT_BEGUN: "it is still to be begun by the configuration ([bins.{0}] begun lies in the future)",
}


def feeding_lines(
    name: str, place: str, plan: FeedingPlan, bed: BedNow, fed: tuple[int, bool], measures: Measures
) -> Iterator[str]:
    """Yield the lines of a bed's feeding plan.

    Args:
        name: People's name for the bin.
        place: Its id.
        plan: The plan.
        bed: The bed.
        fed: The food of the last seven days in grams, and whether all of it is known.
        measures: The yard's measures.
    """
    if not plan.planned:
        yield f"{name}: no plan, as {_MISSING[plan.shares[0][0]].format(place)}."
        return
    eaten, whole = fed
    left = max(0, plan.week_g - eaten)
    yield f"{name}: {feeding_headline(plan, left, measures)}"
    for limit, share in plan.shares:
        yield f"  {_reason(limit, share, plan, bed, measures)}"
    if bed.outlived:
        named = ", ".join(bed.outlived)
        yield f"  Its alarm ({named}) is a silent probe's last word: a reading by hand since says otherwise. Look at the probe."
    if eaten or not whole:
        known = "" if whole else " (and some of unknown weight)"
        rest = measures.mass(left)
        yield f"  Fed in the last seven days: {measures.mass(eaten)}{known}; {rest} of the week's food is left."
    if left:
        yield from _taken_for_granted(bed)
        edge = "2 in" if measures.us else "5 cm"
        yield f"  Leave {edge} clear at the edges, cover it, and feed again only when the last is nearly gone."


def feeding_json(place: str, plan: FeedingPlan, bed: BedNow, fed: tuple[int, bool]) -> dict[str, Any]:
    """Return a feeding plan as plain JSON: masses in kg, the layer in mm.

    Args:
        place: The bin's id.
        plan: The plan.
        bed: The bed.
        fed: The food of the last seven days in grams, and whether all of it is known.
    """
    return {
        "place": place,
        "planned": plan.planned,
        "week_kg": plan.week_g / 1000,
        "feeds": plan.feeds,
        "layer_mm": round(plan.layer_mm, 1),
        "appetite_kg": None if plan.appetite_g is None else plan.appetite_g / 1000,
        "surface_kg": None if plan.surface_g is None else plan.surface_g / 1000,
        "limits": [{"limit": limit.value, "share": round(share, 3)} for limit, share in plan.shares],
        "alarms": [*bed.alarms],
        "outlived": [*bed.outlived],
        "mean_degc": None if bed.temperature_milli_c is None else plain_number(bed.temperature_milli_c),
        "fed_kg": fed[0] / 1000,
        "fed_known": fed[1],
    }


def feeding_headline(plan: FeedingPlan, left: int, measures: Measures) -> str:
    """Return a week's food in one sentence.

    Args:
        plan: The plan.
        left: The part of it that was not fed yet, in grams.
        measures: The yard's measures.
    """
    if not plan.week_g:
        return "no food now."
    week, layer = measures.mass(plan.week_g), f"{measures.layer(plan.layer_mm)} over the bed"
    if not left:
        return f"feed nothing more this week. It takes {week} a week."
    if plan.feeds == 1:
        return f"{week} of food a week, at once, {layer}."
    return f"{week} of food a week, in {plan.feeds} parts of {measures.mass(plan.week_g / plan.feeds)}, {layer} each."


def _taken_for_granted(bed: BedNow) -> Iterator[str]:
    if bed.age_ms is None:
        yield "  Nobody has said when it was begun, so it counts as grown: in its first six weeks give a quarter to a half."
    if bed.moisture_milli_pct is None and not bed.runs:
        yield "  Its damp is not measured: squeeze a handful first, and give nothing wet if water runs."


def _reason(limit: Limit, share: float, plan: FeedingPlan, bed: BedNow, measures: Measures) -> str:
    left, unit = "nothing" if share == 0 else f"{share * 100:.0f} %", "degF" if measures.us else "degC"
    if limit is Limit.SURFACE and plan.surface_g is not None and plan.appetite_g is not None:
        surface, appetite = measures.mass(plan.surface_g), measures.mass(plan.appetite_g)
        return f"Its surface takes {surface} a week; its worms would eat {appetite}."
    if limit in (Limit.COLD, Limit.WARM) and bed.temperature_milli_c is not None:
        return f"It is {limit.value}, {show_temperature(bed.temperature_milli_c, unit)} by the readings of three days: {left}."
    if limit is Limit.ALARM:
        return f"It has an alarm ({', '.join(bed.alarms)}): nothing until that is over, and somebody has looked."
    if limit is Limit.HOT_NOW and bed.hottest_milli_c is not None:
        hottest = show_temperature(bed.hottest_milli_c, unit)
        how = f"{hottest}{' by hand' if bed.hottest_by_hand else ''}, {say_span(bed.hottest_age_ms)} ago"
        return f"The hottest of its newest readings is {how}: nothing, and take hot food out."
    if limit is Limit.WET:
        damp = "" if bed.moisture_milli_pct is None or bed.runs else f", {show_percent(bed.moisture_milli_pct)}"
        return f"It is wet{damp}: nothing wet until a squeezed handful gives two or three drops; dry bedding instead."
    if limit is Limit.SMELL:
        smelled = bed.smell if bed.smell == "sour" else f"of {bed.smell}"
        return f"It smelled {smelled} when somebody looked: nothing wet until a look finds it earthy."
    if limit is Limit.EMPTY:
        return "It is empty by the log."
    return f"It is young: {left} until it is six weeks old."
