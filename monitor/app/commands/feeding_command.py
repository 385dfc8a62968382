"""`feeding`: plans a week's food for each worm bed."""

import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from monitor.app.console.options import config_option, json_option, print_json
from monitor.model.errors import MisuseError

if TYPE_CHECKING:
    from monitor.app.console.measures import Measures
    from monitor.husbandry import BedNow


@click.command()
@click.argument("bin_", metavar="[BIN]", default="")
@click.option(
    "--food",
    type=click.Choice(["fresh", "composted", "pressed"]),
    default="fresh",
    show_default=True,
    help="Kitchen food; food that was composted before; wet pressing residues.",
)
@click.option("--until", metavar="WEIGHT", help="With BIN: how long until its worms weigh so much.")
@config_option
@json_option
def command(bin_: str, food: str, until: str | None, config_file: Path | None, as_json: bool) -> int:
    """Plan a week's food for each worm bed, by its worms, surface, warmth, damp and age, and say why no more.

    \b
    Examples:
      heaptender feeding
      heaptender feeding b1 --food composted
      heaptender feeding b1 --until "24 lb"
    """  # fmt: skip
    from monitor.app.beds import bed_now, fed_lately, feeding_json, feeding_lines  # noqa: PLC0415 (so that --help stays quick)
    from monitor.app.console.measures import Measures  # noqa: PLC0415
    from monitor.app.entries.naming import place_meant  # noqa: PLC0415
    from monitor.app.yard.in_force import load_or_in_force  # noqa: PLC0415
    from monitor.app.yard.yard_view import yard_view  # noqa: PLC0415
    from monitor.husbandry import Food, feeding_plan  # noqa: PLC0415
    from monitor.model.work_entry import is_us  # noqa: PLC0415

    configuration = load_or_in_force(config_file)
    settings = configuration.settings
    places = [place_meant(settings, bin_)] if bin_ else list(settings.bins)
    if not places or any(place not in settings.bins for place in places):
        raise MisuseError(f'"{bin_}" is no worm bin.' if bin_ else "The configuration has no worm bin.")
    if until is not None and not bin_:
        raise MisuseError("--until goes with one bin, such as `heaptender feeding b1 --until 24lb`.")
    measures = Measures(is_us(settings), configuration.containers)
    with yard_view(configuration) as view:
        now = max(time.time_ns() // 1_000_000, view.last or 0)
        found = []
        for place in places:
            bed = bed_now(view, configuration, place, now)
            plan = feeding_plan(bed, Food(food))
            found.append((place, plan, bed, fed_lately(view.store, configuration, place, now)))
    if as_json:
        print_json([feeding_json(*one) for one in found])
    else:
        for place, plan, bed, fed in found:
            click.echo("\n".join(feeding_lines(settings.place_name(place), place, plan, bed, fed, measures)))
        if until is not None:
            click.echo(_growth(found[0][2], until, measures))
    return 0 if all(plan.planned for _, plan, _, _ in found) else 1


def _growth(bed: "BedNow", until: str, measures: "Measures") -> str:
    from monitor.husbandry import APPETITE_A_WEEK, MOST_G_MM2, SURFACE_G_M2, days_to_grow  # noqa: PLC0415
    from monitor.model.amounts import Dimension, parse_amount  # noqa: PLC0415

    try:
        wanted = parse_amount(until)
    except ValueError as fault:
        raise MisuseError(f"--until: {fault}.") from None
    if wanted.dimension is not Dimension.MASS or not wanted.base:
        raise MisuseError('--until is a weight, such as "24 lb" or "10 kg".')
    worms_g = bed.worms_g
    if not worms_g:
        return "  How long its worms take to grow nobody can say, as their weight is unknown."
    if wanted.base <= worms_g:
        return f"  Its worms weigh {measures.mass(worms_g)} already."
    fed = ""
    if bed.surface_mm2 is not None:
        eaten, room = bed.surface_mm2 / 1e6 * SURFACE_G_M2 / APPETITE_A_WEEK, bed.surface_mm2 * MOST_G_MM2
        if wanted.base > round(room):
            fed = f" It holds {measures.mass(room)} at most: before that, spread them to another bed."
        elif wanted.base > eaten:
            fed = f" Its surface feeds no more than {measures.mass(eaten)} of worms with wet food: more beds feed more."
    days = days_to_grow(worms_g, wanted.base)
    return (
        f"  From {measures.mass(worms_g)} to {measures.mass(wanted.base)} of worms: {days.soonest} to {days.latest} days "
        f"if they are kept well. Nothing finer is known until somebody weighs a sample.{fed}"
    )
