"""`status`: how the daemon, its sources and its probes are, in plain words."""

import time
from pathlib import Path

import click

from monitor.app.console.options import config_option, json_option, print_json
from monitor.app.console.time_words import parse_when
from monitor.app.loop.storing import why_unstored
from monitor.app.yard.effect_words import local_time
from monitor.app.yard.in_force import load_or_in_force
from monitor.app.yard.taken_file import TakenFile, taken_file, taken_values, taken_words
from monitor.app.yard.yard_status import standing_words, status_lines, status_values
from monitor.app.yard.yard_view import yard_view
from monitor.model.errors import MisuseError
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS
from monitor.notices import LEAVING_MS


@click.command()
@click.option("--away", is_flag=True, help="Say what happened while you were away.")
@click.option("--since", metavar="TIME", help="With --away: since when (a day ago unless you say).")
@click.option("--leaving", is_flag=True, help="Say what is watched, before you go.")
@config_option
@json_option
def command(away: bool, since: str | None, leaving: bool, config_file: Path | None, as_json: bool) -> int:
    """Show the state of the daemon, its sources and its probes; exit 1 if no daemon runs or nothing can be stored.

    \b
    Examples:
      heaptender status
      heaptender status --leaving
      heaptender status --away --since "yesterday 18:00"
    """
    configuration = load_or_in_force(config_file)
    if since is not None and not away:
        raise MisuseError("--since goes with --away: heaptender status --away --since TIME.")
    with yard_view(configuration) as view:
        # A demo's record may end ahead of this clock; then its end counts as now.
        now = max(time.time_ns() // 1_000_000, view.last or 0)
        texts: dict[str, str] = {}
        unstored = why_unstored(configuration.data, view.pid)
        watched = 0 if view.pid is not None and not unstored else 1
        page_away = (known := view.engine.state.links.get("the page")) is not None and not known.up
        page = configuration.page.link if configuration.page.on and view.pid is not None and not page_away else ""
        if away:
            begun = parse_when(since, now, configuration.settings.site.time_zone, "--since") if since else now - DAY_MS
            texts["away"] = view.engine.while_you_were_away(now, begun)
        if leaving:
            from monitor.app.diary import Asked, diary  # noqa: PLC0415 (only this text needs it)

            asked = Asked(
                engine=view.engine, store=view.store, configuration=configuration, now=now, until=now + LEAVING_MS
            )
            texts["leaving"] = view.engine.before_you_go(now, diary(asked))
        note = taken_file(configuration.data, view.pid)
        if as_json:
            stores = {"stores": not unstored, "unstored": unstored}
            values = status_values(view, now) | {"page": page or None, "configuration": taken_values(note)} | stores
            print_json({"running": view.pid is not None, **stores, **texts} if texts else values)
            return watched
        standing = standing_words(view)
        if texts and standing:
            click.echo(standing)
        if unstored:
            click.echo(f"Nothing can be stored, so nothing below is certain: {unstored}.")
        for line in list(texts.values()) or status_lines(view, now):
            click.echo(line)
        if not texts:
            _tell_connected(page, note, view.engine.state.settings)
        return watched


def _tell_connected(page: str, note: TakenFile | None, settings: Settings) -> None:
    """Print where the page is, and whether the configuration file is not the one in force."""
    words = taken_words(note, local_time(note.at, settings)) if note is not None else ""
    for line in (words, page and f"The page: {page}"):
        if line:
            click.echo(line)
