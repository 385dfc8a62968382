"""`label`: marks a stretch of the past as trouble or as fine, for tuning."""

import time
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import click

from monitor.app.console.options import config_option, json_option, load_configuration, print_json
from monitor.app.console.refusals import ended, near
from monitor.app.console.time_words import parse_when
from monitor.app.entries.label_file import labels_path, save_labels, yard_labels
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError
from monitor.model.times import show_duration, show_time
from monitor.recordings import Label, LabelKind
from monitor.tuning import about


@click.command()
@click.argument("words", nargs=-1, metavar="[PLACE START END trouble|fine]")
@click.option(
    "--note",
    default="",
    metavar="TEXT",
    help="What it was; begin with too hot, too cold, too wet, too dry or dead probe.",
)
@click.option("--undo", is_flag=True, help="Take back the label of PLACE that begins at START.")
@config_option
@json_option
def command(words: tuple[str, ...], note: str, undo: bool, config_file: Path | None, as_json: bool) -> int:
    """Label a stretch of the past as trouble or fine.

    Labels change no decision; `heaptender tune` compares settings with them. Without arguments, the command lists the labels.
    They are in labels.csv in the data folder, which you can open in a spreadsheet.

    \b
    Examples:
      heaptender label b1 "Sunday 11:00" "Sunday 20:00" trouble --note "too hot: worms on the lid"
      heaptender label b1 2026-06-01 2026-07-01 fine
      heaptender label b1
      heaptender label b1 "2026-07-19 11:00" --undo
    """
    configuration = load_configuration(config_file)
    path = labels_path(configuration)
    labels = yard_labels(configuration)
    place = words[0] if words else None
    places = [*configuration.settings.piles, *configuration.settings.bins]
    if place is not None and place not in places:
        raise MisuseError(ended(f'there is no pile or bin "{place}"; {near(place, places)}'))
    if undo:
        return _undo(configuration, path, labels, words, as_json)
    if len(words) <= 1:
        if note:
            raise MisuseError("--note goes with a new label: PLACE START END trouble (or fine).")
        _list(configuration, [label for label in labels if place in (None, label.place)], as_json)
        return 0
    label = _label(configuration, words, note)
    again = [one for one in labels if replace(one, note="") == replace(label, note="")]
    if again and (not label.note or again[0].note == label.note):
        click.echo(f"That was labelled already: {_words(configuration, again[0])}.", err=as_json)
        return 0
    save_labels(path, [*(one for one in labels if one not in again), label])
    if as_json:
        print_json(_plain(label))
        return 0
    done = "Labelled anew" if again else "Labelled"
    click.echo(f"{done}: {_words(configuration, label)}.{_remark(label)}{_overlap(label, labels)}")
    return 0


def _label(configuration: Configuration, words: tuple[str, ...], note: str) -> Label:
    if len(words) != 4:
        raise MisuseError(
            'A label is PLACE START END and "trouble" or "fine"; '
            'put a time with a space in it into quotes, such as "Sunday 11:00".'
        )
    kinds = [kind.value for kind in LabelKind]
    if words[3].lower() not in kinds:
        raise MisuseError(ended(f'"{words[3]}" is no kind of label; {near(words[3].lower(), kinds)}'))
    start, end = _time(configuration, words[1], "START"), _time(configuration, words[2], "END")
    if end <= start:
        raise MisuseError(f"The end ({words[2]}) is not after the start ({words[1]}); the earlier time goes first.")
    return Label(place=words[0], start=start, end=end, kind=LabelKind(words[3].lower()), note=note.strip())


def _time(configuration: Configuration, text: str, option: str) -> int:
    now = time.time_ns() // 1_000_000
    at = parse_when(text, now, configuration.settings.site.time_zone, option)
    if at > now:
        raise MisuseError(f"{option}: {text} lies in the future; only what has been can be labelled.")
    return at


def _undo(configuration: Configuration, path: Path, labels: list[Label], words: tuple[str, ...], as_json: bool) -> int:
    if len(words) != 2:
        raise MisuseError("--undo takes PLACE and START, as `heaptender label` lists them.")
    start = _time(configuration, words[1], "START")
    # Lists show times to the minute, so any label of that minute is meant.
    gone = [label for label in labels if label.place == words[0] and 0 <= label.start - start < 60_000]
    if not gone:
        click.echo(f"No label of {words[0]} begins then; `heaptender label {words[0]}` lists them.", err=True)
        return 1
    save_labels(path, [label for label in labels if label not in gone])
    for label in gone:
        if as_json:
            print_json(_plain(label))
        else:
            click.echo(f"Taken back: {_words(configuration, label)}.")
    return 0


def _list(configuration: Configuration, labels: list[Label], as_json: bool) -> None:
    if as_json:
        print_json([_plain(label) for label in labels])
        return
    for label in labels:
        click.echo(f"{_words(configuration, label)}.")
    if not labels:
        click.echo(
            'Nothing is labelled yet. Say for instance: heaptender label b1 "Sunday 11:00" "Sunday 20:00" trouble'
        )


def _words(configuration: Configuration, label: Label) -> str:
    settings = configuration.settings
    lasting = show_duration(label.end - label.start)
    what = f"{label.kind.value}, {label.note}" if label.note else label.kind.value
    moment = datetime.fromtimestamp(label.start / 1000, ZoneInfo(settings.site.time_zone))
    # In the form that --undo takes.
    start = f"{moment:%Y-%m-%d %H:%M} ({moment:%A})"
    return f"{settings.place_and_id(label.place)}, {start} for {lasting}: {what}"


def _remark(label: Label) -> str:
    if label.kind is LabelKind.FINE or about(label.note):
        return ""
    return (
        " Any message of the place counts as a warning of it; to name those that are meant, begin the note with too hot, "
        "too cold, too wet, too dry or dead probe."
    )


def _overlap(label: Label, labels: list[Label]) -> str:
    here = [one for one in labels if one.place == label.place and one.start < label.end and one.end > label.start]
    if all(one.kind is label.kind for one in here):
        return ""
    return " Part of it is labelled otherwise as well; where trouble and fine overlap, the trouble counts."


def _plain(label: Label) -> dict[str, str]:
    times = {"start": show_time(label.start), "end": show_time(label.end)}
    return {"place": label.place, **times, "kind": label.kind.value, "note": label.note}
