"""`diary`: lists what falls due, why, and how long it can wait."""

import time
from pathlib import Path

import click

from monitor.app.console.options import config_option, json_option, print_json
from monitor.model.errors import MisuseError
from monitor.model.settings import YARD


@click.command()
@click.argument("place", metavar="[PLACE]", default="")
@click.option(
    "--days", type=click.IntRange(1, 366), default=7, show_default=True, help="How many days ahead, today included."
)
@config_option
@json_option
def command(place: str, days: int, config_file: Path | None, as_json: bool) -> int:
    """List what falls due: to turn, water, read, feed, test, certify, check; why, and how long it can wait.

    \b
    Examples:
      heaptender diary
      heaptender diary p1 --days 14
    """  # fmt: skip
    from datetime import timedelta  # noqa: PLC0415 (all of these, so that --help stays quick)
    from zoneinfo import ZoneInfo  # noqa: PLC0415

    from monitor.app.diary import Asked, diary, diary_json, diary_lines  # noqa: PLC0415
    from monitor.app.entries.naming import place_meant  # noqa: PLC0415
    from monitor.app.yard.in_force import load_or_in_force  # noqa: PLC0415
    from monitor.app.yard.yard_status import standing_words  # noqa: PLC0415
    from monitor.app.yard.yard_view import yard_view  # noqa: PLC0415
    from monitor.notices import instant, local  # noqa: PLC0415

    configuration = load_or_in_force(config_file)
    settings = configuration.settings
    wanted = place_meant(settings, place) if place else ""
    if wanted and wanted not in (*settings.piles, *settings.bins, YARD):
        raise MisuseError(f'"{place}" is no pile and no bin, so nothing falls due there.')
    with yard_view(configuration) as view:
        now = max(time.time_ns() // 1_000_000, view.last or 0)
        zone = ZoneInfo(view.engine.state.settings.site.time_zone)
        until = instant(local(now, zone).date() + timedelta(days=days), 0, zone)
        asked = Asked(engine=view.engine, store=view.store, configuration=configuration, now=now, until=until)
        found = [one for one in diary(asked) if not wanted or one.place == wanted]
        if as_json:
            print_json(diary_json(found, now))
            return 0
        if standing := standing_words(view):
            click.echo(standing, err=True)
        click.echo("\n".join(diary_lines(found, view.engine.state.settings, now, until)))
    return 0
