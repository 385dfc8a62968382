"""`diary`: lists what falls due, why, and how long it can wait."""

import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from monitor.app.console.options import config_option, json_option, print_json
from monitor.model.errors import MisuseError
from monitor.model.settings import YARD

if TYPE_CHECKING:
    from monitor.diary import Due
    from monitor.model.settings import Settings


@click.command()
@click.argument("place", metavar="[PLACE]", default="")
@click.option(
    "--days", type=click.IntRange(1, 366), default=7, show_default=True, help="How many days ahead, today included."
)
@click.option(
    "--ics", metavar="FILE", type=click.Path(path_type=Path), help="Also write it as a calendar file (iCalendar)."
)
@config_option
@json_option
def command(place: str, days: int, ics: Path | None, config_file: Path | None, as_json: bool) -> int:
    """List what falls due: to turn, water, read, feed, test, certify, check; why, and how long it can wait.

    \b
    Examples:
      heaptender diary
      heaptender diary p1 --days 14
      heaptender diary --days 60 --ics yard.ics
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
        if ics is not None:
            _write(ics, found, view.engine.state.settings, now)
        if as_json:
            print_json(diary_json(found, now))
            return 0
        if standing := standing_words(view):
            click.echo(standing, err=True)
        click.echo("\n".join(diary_lines(found, view.engine.state.settings, now, until)))
    return 0


def _write(path: Path, found: "Sequence[Due]", settings: "Settings", now: int) -> None:
    from monitor.app.console.whole_files import whole_file  # noqa: PLC0415
    from monitor.app.diary.diary_calendar import calendar_bytes  # noqa: PLC0415 (the library is loaded for a calendar alone)

    with whole_file(path) as raw:
        raw.write(calendar_bytes(found, settings, now))
    entries = "1 entry" if len(found) == 1 else f"{len(found)} entries"
    click.echo(f"{path} has the diary as a calendar of {entries}.", err=True)
