"""`bed`: the depth and the worms of each bed, and what it needs next."""

import time
from pathlib import Path

import click

from monitor.app.console.options import config_option, json_option, print_json
from monitor.model.errors import MisuseError


@click.command()
@click.argument("bin_", metavar="[BIN]", default="")
@click.option("--count", type=click.IntRange(1, 10**7), metavar="N", help="How much N grown worms weigh, nothing else.")
@config_option
@json_option
def command(bin_: str, count: int | None, config_file: Path | None, as_json: bool) -> int:
    """Show the depth and the worms of each bed, its next lift of bedding, harvest and food, and why.

    \b
    Examples:
      heaptender bed
      heaptender log inspected b1 --depth "20 in"
      heaptender log sampled b1 "15 oz" --what worms --spot west
      heaptender bed b1
      heaptender bed --count 2000
    """  # fmt: skip
    from monitor.app.beds import BedWords, bed_json, bed_look, bed_now, fed_lately, feeding_headline  # noqa: PLC0415 (so that --help stays quick)
    from monitor.app.console.harmless import harmless  # noqa: PLC0415
    from monitor.app.console.measures import Measures  # noqa: PLC0415
    from monitor.app.entries.naming import place_meant  # noqa: PLC0415
    from monitor.app.yard.in_force import load_or_in_force  # noqa: PLC0415
    from monitor.app.yard.yard_view import yard_view  # noqa: PLC0415
    from monitor.husbandry import feeding_plan, weight_of  # noqa: PLC0415
    from monitor.model.work_entry import is_us  # noqa: PLC0415
    from monitor.notices import LIFTING  # noqa: PLC0415

    configuration = load_or_in_force(config_file)
    settings = configuration.settings
    measures = Measures(is_us(settings), configuration.containers)
    if count is not None:
        weight = weight_of(count)
        if as_json:
            print_json(
                {
                    "worms": count,
                    "least_kg": weight.least / 1000,
                    "kg": weight.usual / 1000,
                    "most_kg": weight.most / 1000,
                }
            )
            return 0
        bounds = f"{measures.mass(weight.least)} to {measures.mass(weight.most)}"
        click.echo(f"{count:,} grown worms weigh about {measures.mass(weight.usual)} ({bounds}).")
        return 0
    places = [place_meant(settings, bin_)] if bin_ else list(settings.bins)
    if not places or any(place not in configuration.beds for place in places):
        raise MisuseError(f'"{bin_}" is no worm bin.' if bin_ else "The configuration has no worm bin.")
    with yard_view(configuration) as view:
        now = max(time.time_ns() // 1_000_000, view.last or 0)
        found = []
        for place in places:
            plan = feeding_plan(bed_now(view, configuration, place, now))
            fed, _ = fed_lately(view.store, configuration, place, now)
            found.append((bed_look(view.store, configuration, place, now), plan, max(0, plan.week_g - fed)))
    if as_json:
        print_json([bed_json(bed) for bed, _, _ in found])
        return 0
    words = BedWords(settings, measures, now)
    for bed, plan, left in found:
        click.echo("\n".join(map(harmless, words.lines(bed))))
        food = feeding_headline(plan, left, measures) if plan.planned else "no plan."
        click.echo(f"  Food: {food} `heaptender feeding {bed.place}` says why.")
        if any(step.due is not None and step.due <= now for step in (bed.lift, bed.harvest)):
            click.echo(f"  {LIFTING}")
    return 0
