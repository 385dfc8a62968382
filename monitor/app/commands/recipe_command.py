"""`recipe`: works out a mix, and writes it down as a heap that was built."""

import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from monitor.app.console.options import (
    config_option,
    configuration_path,
    json_option,
    load_configuration,
    only_say_option,
    print_json,
)
from monitor.app.console.reports import write_report
from monitor.model.errors import MisuseError

if TYPE_CHECKING:
    from monitor.app.console.measures import Measures
    from monitor.app.mixing import Asked
    from monitor.configuration import Configuration
    from monitor.mix import Feedstock, MixLimits


@click.command()
@click.option("--all", "whole", multiple=True, metavar="NAME=AMOUNT", help="This goes in whole.")
@click.option("--some", multiple=True, metavar="NAME[=AMOUNT]", help="As much of this as is needed, up to the amount.")
@click.option("--stock", is_flag=True, help="Add what is in stock: what rots goes in whole, the rest as needed.")
@click.option(
    "--materials",
    type=click.Path(path_type=Path, dir_okay=False),
    help="A CSV file with figures of your own materials.",
)
@click.option("--cn", metavar="25..35", help="Carbon to nitrogen, by mass.")
@click.option("--moisture", metavar="50..60", help="Water, percent of wet mass.")
@click.option("--density-max", metavar="600", help="Greatest density: kg/m³, or such as 1000lb/yd3.")
@click.option("--organic", is_flag=True, help="Keep to C/N 25..40, as the US organic rule asks.")
@click.option("--bay", metavar='"5 x 5 ft"', help="Ground of the bay, for the height.")
@click.option("--frost", is_flag=True, help="It is built in frost, and must be bigger.")
@click.option("--bucket", metavar='"23 lb"', help="A full bucket of the mix weighs this (without the bucket).")
@click.option("--bucket-water", metavar='"2 gal"', help="With --bucket: this much water fills it up.")
@click.option(
    "--picture",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE.svg",
    help="Draw the mix among its limits into a file.",
)
@click.option("--build", metavar="PLACE", help="Write the heap down as built there, now.")
@click.option("--by", metavar="NAME", help="With --build: who built it.")
@click.option("--again", is_flag=True, help="With --build: take the entry as it is, without asking.")
@only_say_option
@click.option("--list", "listed", is_flag=True, help="List the known materials with their figures.")
@config_option
@json_option
def command(  # noqa: PLR0913 (click hands over each option by itself)
    *,
    whole: tuple[str, ...],
    some: tuple[str, ...],
    materials: Path | None,
    picture: Path | None,
    cn: str | None,
    moisture: str | None,
    density_max: str | None,
    bay: str | None,
    bucket: str | None,
    bucket_water: str | None,
    build: str | None,
    by: str | None,
    config_file: Path | None,
    stock: bool,
    organic: bool,
    frost: bool,
    again: bool,
    only_say: bool,
    listed: bool,
    as_json: bool,
) -> int:
    """Work out how much of each material goes into a heap, and in which layers; exit 1 if no mix fits.

    Amounts are weights, volumes (weighed by the material's loose density), or the yard's containers.

    \b
    Examples:
      heaptender recipe --all "stable litter=400 kg" --some leaves="6 m3" --some "coffee grounds=60 kg"
      heaptender recipe --all grass=1yd3 --some leaves --some straw=20kg --bay "5 x 5 ft"
      heaptender recipe --stock --build "Bay 2"
      heaptender recipe --list
    """
    from monitor.app.console.measures import Measures  # noqa: PLC0415 (so that --help stays quick)
    from monitor.app.mixing import (  # noqa: PLC0415
        answered_mix,
        bucket_test,
        build_fields,
        draw_mix,
        feedstock_lines,
        ground_mm2,
        mix_json,
        mix_lines,
    )
    from monitor.model.work_entry import is_us  # noqa: PLC0415

    if only_say and build is None:
        raise MisuseError("--only-say goes with --build: without it nothing is written down.")
    configuration = _configuration(config_file, needed=stock or build is not None)
    measures = Measures()
    if configuration is not None:
        measures = Measures(is_us(configuration.settings), configuration.containers)
    known = _known(materials)
    if listed:
        click.echo("\n".join(feedstock_lines(known.values(), measures)))
        return 0
    limits = _limits(moisture, cn, density_max, organic=organic)
    asked = _asked(whole, some, known, measures, configuration if stock else None)
    test = bucket_test(bucket, bucket_water, measures.containers)
    answer = answered_mix(asked, limits, ground_mm2(bay), test, frost=frost)
    if picture is not None:
        write_report(picture, draw_mix(answer.recipe, answer.offered))
        click.echo(f"The picture is in {picture}.", err=True)
    if as_json:
        print_json(mix_json(answer))
    else:
        click.echo("\n".join(mix_lines(answer, measures, frost=frost)))
    if not answer.is_safe_to_build:
        if build is not None:
            click.echo("Nothing was written down.", err=True)
        return 1
    if build is None or configuration is None:
        return 0
    if answer.needs_ground:
        raise MisuseError(
            'Nothing was written down. So large a heap may be too high: say its ground, such as --bay "8 x 10 ft".'
        )
    told = build_fields(answer.recipe, measures)
    return _write_down(configuration, told, build, by, again=again, only_say=only_say, as_json=as_json)


def _known(materials: Path | None) -> dict[str, "Feedstock"]:
    """Return the known materials; a row of the person's table that contradicts itself is told."""
    from monitor.app.console.harmless import harmless  # noqa: PLC0415
    from monitor.app.mixing import feedstocks_known  # noqa: PLC0415

    remarks: list[str] = []
    known = feedstocks_known(materials, remarks)
    for remark in remarks:
        click.echo(harmless(remark), err=True)
    return known


def _asked(
    whole: Sequence[str],
    some: Sequence[str],
    known: Mapping[str, "Feedstock"],
    measures: "Measures",
    stocked: "Configuration | None",
) -> "Asked":
    """Return the materials of a mix.

    Args:
        whole: `NAME=AMOUNT` of what goes in whole.
        some: `NAME` or `NAME=AMOUNT` of what goes in as far as it is needed.
        known: The feedstocks by name.
        measures: The yard's measures.
        stocked: The configuration of the yard whose stock goes in besides; None: only what was named.

    Returns:
        The materials with their amounts.

    Raises:
        MisuseError: A name or an amount cannot be understood, or nothing goes in whole.
    """
    from monitor.app.mixing import asked_mix  # noqa: PLC0415

    asked = asked_mix(whole, some, known, measures.containers, us=measures.us)
    if stocked is not None:
        asked = _with_stock(stocked, asked)
    if not asked.whole:
        rots = "Nothing in stock rots. " if stocked is not None else ""
        raise MisuseError(
            f'{rots}Name what goes in whole, such as --all "stable litter=400 kg"; --list shows what is known.'
        )
    return asked


def _with_stock(configuration: "Configuration", asked: "Asked") -> "Asked":
    from monitor.app.stock import feedstocks_by_name, opened_material, stock_for_mixing, with_stock  # noqa: PLC0415

    with opened_material(configuration) as opened:
        there = stock_for_mixing(opened.record, feedstocks_by_name())
    together, left_out = with_stock(asked, there)
    if left_out:
        click.echo(f"Left out, since its figures or its amount are unknown: {', '.join(left_out)}.", err=True)
    for one in there:
        if one.risks and one.material not in left_out:
            click.echo(f"RISK of the {one.material} in stock: {', '.join(one.risks)}.", err=True)
    return together


def _limits(moisture: str | None, cn: str | None, density_max: str | None, *, organic: bool) -> "MixLimits":
    from monitor.app.mixing import band_of, density_of  # noqa: PLC0415
    from monitor.mix import MixLimits  # noqa: PLC0415

    bands = band_of(moisture, "--moisture"), band_of(cn, "--cn")
    try:
        return MixLimits.asked(*bands, density_of(density_max), organic=organic)
    except ValueError as fault:
        raise MisuseError(f"{fault}.") from None


def _configuration(config_file: Path | None, *, needed: bool) -> "Configuration | None":
    """Return the yard's configuration; None where there is none and none is needed."""
    there = needed or config_file is not None or configuration_path(None).exists()
    return load_configuration(config_file) if there else None


def _write_down(
    configuration: "Configuration",
    fields: dict[str, str],
    build: str,
    by: str | None,
    *,
    again: bool,
    only_say: bool,
    as_json: bool,
) -> int:
    from monitor.app.commands.putting_down import put_down  # noqa: PLC0415
    from monitor.app.entries.entries import Entry, work_entry  # noqa: PLC0415
    from monitor.app.entries.naming import place_meant  # noqa: PLC0415
    from monitor.app.loop.asking import Taken  # noqa: PLC0415

    place = place_meant(configuration.settings, build)
    entry = work_entry(configuration.settings, "built", place, {**fields, "by": by}, time.time_ns() // 1_000_000)

    def tell(entry: Entry, taken: Taken, changes: str) -> int:
        del taken
        undo = f"(To take it back: heaptender log undo {place}.)"
        click.echo(" ".join(filter(None, (f"Written down: {entry.words}.", changes, undo))), err=True)
        return 0

    # The mix itself is what goes to stdout, as JSON or in words.
    return put_down(configuration, [entry], tell, again=again, only_say=only_say, as_json=as_json)
