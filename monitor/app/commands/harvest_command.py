"""`harvest`: what each harvest of the worm beds yielded, and what goes back where."""

import time
from pathlib import Path

import click

from monitor.app.console.options import config_option, json_option, print_json
from monitor.model.errors import MisuseError

NEWEST = 3
"""How many harvests of each bin are shown unless all are asked for."""


@click.command()
@click.argument("bin_", metavar="[BIN]", default="")
@click.option("--all", "every", is_flag=True, help=f"Every harvest; else the newest {NEWEST} of each bin.")
@config_option
@json_option
def command(bin_: str, every: bool, config_file: Path | None, as_json: bool) -> int:
    """Show what each harvest yielded on dry matter, dried and screened, and what goes back where.

    It reads the log: log a harvest and its screening with weights and moistures.

    \b
    Examples:
      heaptender log harvested b1 "100 lb" --moisture 74
      heaptender log screened b1 --moisture 45 --fines "30 lb" --middle "9 lb" --overs "8 lb"
      heaptender harvest b1
    """  # fmt: skip
    from monitor.app.beds import BedWords, HarvestWords, bed_look, harvest_json, harvests_now  # noqa: PLC0415 (so that --help stays quick)
    from monitor.app.console.harmless import harmless  # noqa: PLC0415
    from monitor.app.console.measures import Measures  # noqa: PLC0415
    from monitor.app.entries.naming import place_meant  # noqa: PLC0415
    from monitor.app.yard.in_force import load_or_in_force  # noqa: PLC0415
    from monitor.journal import open_reader  # noqa: PLC0415
    from monitor.model.work_entry import is_us  # noqa: PLC0415
    from monitor.notices import DUST, LIFTING  # noqa: PLC0415

    configuration = load_or_in_force(config_file)
    settings = configuration.settings
    place = place_meant(settings, bin_) if bin_ else ""
    if place and place not in settings.bins:
        raise MisuseError(f'"{bin_}" is no worm bin.')
    with open_reader(configuration.data) as store:
        found, strays = harvests_now(store, configuration, place)
        now = time.time_ns() // 1_000_000
        of_bins = dict.fromkeys(one.harvest.work.place for one in found if one.harvest.work.place in configuration.beds)
        beds = [bed_look(store, configuration, one, now) for one in of_bins]
    words = HarvestWords(settings, Measures(is_us(settings), configuration.containers), now)
    if not every:
        bins = {one.harvest.work.place for one in found}
        newest = [[one for one in found if one.harvest.work.place == bed][-NEWEST:] for bed in bins]
        found = sorted((one for some in newest for one in some), key=lambda one: one.harvest.work.time)
    if as_json:
        print_json([harvest_json(one) for one in found])
        return 0
    for one in found:
        click.echo("\n".join(map(harmless, words.lines(one))))
    of_beds = BedWords(settings, words.measures, now)
    for bed in beds:
        click.echo(harmless(f"Worms left in {settings.place_name(bed.place)}: {of_beds.worms(bed)}"))
    for stray in strays:
        click.echo(harmless(words.stray(stray)))
    if not found:
        which = settings.place_name(place) if place else "any bin"
        click.echo(
            f"No harvest of {which} is logged: heaptender log harvested {place or 'BIN'} AMOUNT --moisture PERCENT"
        )
    if any(not one.harvest.screenings for one in found):
        click.echo(f"{DUST} {LIFTING}")
    return 0
