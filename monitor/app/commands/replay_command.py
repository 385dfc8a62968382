"""`replay`: runs a recording through the engine and prints its effects."""

import json
from pathlib import Path

import click

from monitor.app.effect_words import effect_words
from monitor.app.options import config_option, json_option, load_configuration
from monitor.app.progress import progress_bar
from monitor.app.replaying import Recording, read_recording, replay, with_settings
from monitor.configuration import settings_of
from monitor.model.effects import Effect
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.model.settings import Settings
from monitor.model.times import parse_time
from monitor.recordings import effect_line


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--work", multiple=True, type=click.Path(path_type=Path), help="A work log in CSV; may be given again.")
@click.option("--until", metavar="TIME", help="End at this time (RFC 3339).")
@click.option(
    "--set", "overrides", multiple=True, metavar="KEY=VALUE", help="Try another threshold; may be given again."
)
@config_option
@json_option
def command(
    files: tuple[Path, ...],
    work: tuple[Path, ...],
    until: str | None,
    overrides: tuple[str, ...],
    config_file: Path | None,
    as_json: bool,
) -> None:
    """Run a recording through the engine and print what it would have decided.

    FILES are CSV recordings of readings (and work), or one record made by `export events`. Nothing is written to disk.

    \b
    Examples:
      heaptender replay demo-data/sunny-bin.readings.csv --config demo-data/sunny-bin.toml
      heaptender replay readings.csv --work work.csv --set bins.b1.overheating="82 degF"
    """
    recording = read_recording(files, work, lambda: load_configuration(config_file))
    for sentence in recording.problems:
        click.echo(sentence, err=True)
    end = _time(until)
    # Wrong overrides are told before anything is run.
    list(with_settings((e for e in recording.events if e.kind is EventKind.SETTINGS), overrides))
    with progress_bar("Replaying") as show:
        effects = replay(recording, overrides if as_json else (), end, show)
    if as_json:
        for effect in effects:
            click.echo(effect_line(effect))
        return
    settings = settings_in(recording)
    if not overrides:
        for effect in effects:
            click.echo(effect_words(effect, settings))
        click.echo(f"{len(effects)} effects.", err=True)
        return
    with progress_bar("Replaying with the change") as show:
        changed = replay(recording, overrides, end, show)
    _print_both(effects, changed, settings)


def settings_in(recording: Recording) -> Settings:
    """Return the settings that a recording begins with."""
    for event in recording.events:
        if event.kind is EventKind.SETTINGS:
            return settings_of(json.dumps(event.payload["settings"]))
    return Settings()


def _time(text: str | None) -> int | None:
    if text is None:
        return None
    try:
        return parse_time(text)
    except ValueError as fault:
        raise MisuseError(f"--until: {fault}.") from fault


def _print_both(now: list[Effect], changed: list[Effect], settings: Settings) -> None:
    """Print both runs, in order: ` ` in both, `-` only with the settings as they are, `+` only with the change."""
    mine = {effect_words(e, settings): e for e in now}
    theirs = {effect_words(e, settings): e for e in changed}
    lines = sorted(
        ((e.at, e.ordinal, words) for words, e in {**theirs, **mine}.items()),
        key=lambda line: (line[0], line[1], line[2]),
    )
    for _, _, words in lines:
        sign = " " if words in mine and words in theirs else "-" if words in mine else "+"
        click.echo(f"{sign} {words}")
    gone, come = sum(w not in theirs for w in mine), sum(w not in mine for w in theirs)
    click.echo(
        f"{len(mine)} effects as it is, {len(theirs)} with the change; {gone} gone (-), {come} new (+).", err=True
    )
