"""`replay`: runs a recording through the engine and prints its effects."""

from pathlib import Path
from typing import Any

import click

from monitor.app.console.options import config_option, json_option, load_configuration
from monitor.app.console.progress_bar import progress_bar
from monitor.app.console.reports import write_report
from monitor.app.console.sheet_options import sheet_forms, sheet_options
from monitor.app.replay.replay_settings import changed, settings_ever, with_settings
from monitor.app.replay.replaying import Recording, read_recording, replay, span_of, stored_recording
from monitor.app.yard.effect_words import effect_words
from monitor.model.effects import Effect
from monitor.model.errors import MisuseError
from monitor.model.times import parse_time
from monitor.recordings import effect_line


@click.command()
@click.argument("files", nargs=-1, type=click.Path(path_type=Path))
@click.option("--work", multiple=True, type=click.Path(path_type=Path), help="A work log in CSV; may be given again.")
@click.option("--until", metavar="TIME", help="End at this time (RFC 3339).")
@click.option(
    "--set", "overrides", multiple=True, metavar="KEY=VALUE", help="Try another threshold; may be given again."
)
@click.option(
    "--picture", type=click.Path(path_type=Path), help="With --set: both runs as a picture, into this SVG file."
)
@sheet_options
@config_option
@json_option
def command(
    files: tuple[Path, ...],
    work: tuple[Path, ...],
    until: str | None,
    overrides: tuple[str, ...],
    picture: Path | None,
    config_file: Path | None,
    as_json: bool,
    **given: Any,
) -> None:
    """Run a recording through the engine and print what it would have decided.

    FILES are CSV recordings of readings (and work), or one record made by `export events`; without any, the yard's own
    record is taken. Nothing is written to disk. With --set, both runs are compared: which messages come, go or
    move; with --json only the changed run is printed.

    \b
    Examples:
      heaptender replay demo-data/sunny-bin.readings.csv --config demo-data/sunny-bin.toml
      heaptender replay readings.csv --work work.csv --set bins.b1.overheating="82 degF" --picture both.svg
      heaptender replay --set bins.b1.overheating="82 degF"
    """
    if picture is not None and (not overrides or picture.is_dir() or (picture.exists() and not picture.is_file())):
        raise MisuseError("--picture goes with --set, and names an SVG file.")
    if picture is not None and picture.suffix.lower() != ".svg":
        raise MisuseError(f"--picture {picture}: the picture is a file ending in .svg.")
    if files or work:
        recording = read_recording(files, work, lambda: load_configuration(config_file), sheet_forms(given))
    else:
        recording = stored_recording(load_configuration(config_file))
    for sentence in recording.problems:
        click.echo(sentence, err=True)
    end = _time(until)
    # Refuse wrong overrides before the run begins.
    with_settings(recording.events, overrides, recording.state)
    with progress_bar("Replaying") as show:
        # Two runs side by side must differ only in the changed settings.
        effects = replay(recording, overrides if as_json else (), end, show, sealed=not overrides)
    if as_json:
        for effect in effects:
            click.echo(effect_line(effect))
        return
    settings = settings_ever(recording.pieces, recording.state)
    if not overrides:
        for effect in effects:
            click.echo(effect_words(effect, settings))
        click.echo(f"{len(effects)} effects.", err=True)
        return
    with progress_bar("Replaying with the change") as show:
        changed = replay(recording, overrides, end, show)
    _tell_both(recording, (effects, changed), overrides, end, picture)


def _tell_both(
    recording: Recording,
    runs: tuple[list[Effect], list[Effect]],
    overrides: tuple[str, ...],
    end: int | None,
    picture: Path | None,
) -> None:
    from monitor.app.tuning_report.side_by_side import Both  # noqa: PLC0415 (needed only to compare two runs)

    settings = settings_ever(recording.pieces, recording.state)
    other = changed(settings, overrides)
    first, last = span_of(recording)
    both = Both(settings, other, *runs, first, max(first + 1, last if end is None else end))
    for line in both.lines():
        click.echo(line)
    if picture is not None:
        write_report(picture, both.picture())
        click.echo(f"The picture is in {picture}.", err=True)


def _time(text: str | None) -> int | None:
    if text is None:
        return None
    try:
        return parse_time(text)
    except ValueError as fault:
        raise MisuseError(f"--until: {fault}.") from fault
