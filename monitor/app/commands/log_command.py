"""`log`: writes down work, a hand reading, a probe in or out, or an answer to an alarm."""

import re
import time
from pathlib import Path
from typing import Any

import click

from monitor.app.asking import ask
from monitor.app.effect_words import local_time
from monitor.app.entries import ANSWERS, Entry, answer_entry, work_entry
from monitor.app.hand_entries import apart_words, hand_meaning, reading_entry, round_entry
from monitor.app.options import config_option, json_option, load_configuration, print_json
from monitor.app.time_words import parse_when
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.model.times import show_time

_BELOW_ZERO = re.compile(r"-|-\d.*")
_UNDONE = (EventKind.WORK, EventKind.READINGS)


@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("what")
@click.argument("where")
@click.argument("rest", nargs=-1)
@click.option("--at", "at", metavar="TIME", help="When it was: 14:05, yesterday 18:00, 20 min ago, or RFC 3339.")
@click.option("--to", metavar="PLACE", help="Where it went (moved, split, merged).")
@click.option("--probe", metavar="PROBE", help="Which probe (probe-in, probe-out).")
@click.option("--amount", metavar="N", help="How much, such as 20.")
@click.option("--measure", metavar="UNIT", help="Of the amount, such as L or kg.")
@click.option("--spot", metavar="SPOT", help="Where it was read by hand (reading).")
@click.option("--depth", metavar="LENGTH", help="How deep, such as 24in (reading, round).")
@click.option("--with", metavar="THERMOMETER", help="Which thermometer (reading, round).")
@click.option("--by", metavar="NAME", help="Who did it.")
@click.option("--note", metavar="TEXT", help="Anything else.")
@click.option("--until", metavar="TIME", help="End of a put-off, such as `in 2 h`.")
@config_option
@json_option
def command(config_file: Path | None, as_json: bool, what: str, where: str, rest: tuple[str, ...], **given: Any) -> int:
    """Write down what was done or seen, a temperature taken by hand, or an answer to an alarm.

    WHERE is a pile or a bin; an answer names the alarm as `status` does.

    \b
    Examples of work (built, added, turned, watered, covered, moved, split, merged, emptied, fan, fed,
    bedded, harvested, screened, sampled, seen, probe-in, probe-out, note; turning-now is turned, now):
      heaptender log turned p1 --at "20 min ago" --by Ann
      heaptender log watered p1 --amount 40 --measure L
      heaptender log fed b1 --amount 2 --measure kg
      heaptender log moved p1 --to p2
      heaptender log probe-in p1 --probe p1-a

    \b
    Temperatures taken by hand (a round: the spots of the place in their order, - for one not read):
      heaptender log reading p1 131F
      heaptender log reading p1 141F --spot west --depth 24in --with dial-2
      heaptender log round p1 141 138 - 129

    \b
    Answers to an alarm (seen or acknowledge, put-off, taken-up, out-of-service, back):
      heaptender log seen b1/overheating --by Ann
      heaptender log put-off b1/too-wet --until "in 12 h"

    \b
    What was wrong (without a time, the newest entry of the place is meant):
      heaptender log undo p1
      heaptender log undo p1 2026-07-18T16:05:00.000Z
      heaptender log correct p1 --at 14:05 --amount 30
    """
    configuration = load_configuration(config_file)
    entry = _entry(configuration, what, where, rest, given)
    taken = ask(configuration, entry.kind, entry.payload)
    if as_json:
        at = None if taken.at is None else show_time(taken.at)
        print_json({"at": at, "kind": entry.kind.value, "payload": entry.payload})
    if taken.conflicts:
        click.echo("Another reading of that moment is written down already, and it stays.", err=True)
        return 1
    if not as_json:
        _tell(configuration, entry, where, taken.at)
    return 0


def _tell(configuration: Configuration, entry: Entry, where: str, at: int | None) -> None:
    when = local_time(entry.time, configuration.settings)
    if at is None:
        click.echo(f"That was written down already: {entry.words}, {when}.")
        return
    undo = f" (to take it back: heaptender log undo {where} {show_time(at)})" if entry.kind in _UNDONE else ""
    if entry.kind is EventKind.READINGS:
        _tell_reading(configuration, entry, when, undo)
        return
    click.echo(f"Written down: {entry.words}, {when}.{undo}{' ' + entry.remark if entry.remark else ''}")


def _tell_reading(configuration: Configuration, entry: Entry, when: str, undo: str) -> None:
    """Say in the same breath what was read by hand and what it means; nobody needs the daemon for it."""
    meant = hand_meaning(configuration.settings, entry.payload, time.time_ns() // 1_000_000)
    said = [f"Logged: {entry.words}, {when}.", meant, apart_words(configuration, entry.payload), entry.remark]
    click.echo(" ".join(one for one in said if one) + undo)


def _entry(configuration: Configuration, what: str, where: str, rest: tuple[str, ...], given: dict[str, Any]) -> Entry:
    now, settings = time.time_ns() // 1_000_000, configuration.settings

    def instant(text: str | None, option: str) -> int | None:
        return None if text is None else parse_when(text, now, settings.site.time_zone, option)

    at = instant(given["at"], "--at")
    if at is not None and at > now:
        raise MisuseError("--at lies in the future; only what was done can be written down.")
    if what in ("undo", "correct"):
        from monitor.app.amendments import correct_entry, undo_entry  # noqa: PLC0415 (only these look back)

        of = instant(_text(what, rest, 1), "TIME")
        if what == "undo":
            return undo_entry(configuration, where, of, given)
        return correct_entry(configuration, where, of, given, at)
    for word in rest:
        # A reading below zero begins like an option, so that click leaves unknown ones to us.
        if word.startswith("-") and not (what in ("reading", "round") and _BELOW_ZERO.fullmatch(word)):
            raise MisuseError(f'there is no option "{word}"; `heaptender log --help` lists them.')
    if what in ("reading", "round"):
        taken = reading_entry if what == "reading" else round_entry
        return taken(configuration, where, rest, given, now if at is None else at)
    _text(what, rest, 0)
    if what in ANSWERS or (what == "seen" and "/" in where):
        return answer_entry(configuration, what, where, given, instant(given["until"], "--until"), now)
    return work_entry(settings, what, where, given, now if at is None else at)


def _text(what: str, rest: tuple[str, ...], most: int) -> str | None:
    """Return the words after WHERE as one text, refused where there are more than can be meant."""
    if len(rest) > most:
        raise MisuseError(f'"{rest[most]}" does not go with "{what}"; put what has spaces in it into quotes.')
    return rest[0] if rest else None
