"""`log`: writes down work, a hand reading, a probe in or out, or an answer to an alarm."""

import time
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import click

from monitor.app.asking import ask
from monitor.app.options import config_option, json_option, load_configuration, print_json
from monitor.app.refusals import near
from monitor.app.time_words import parse_when
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError
from monitor.model.events import Answer, EventKind
from monitor.model.readings import hand_series
from monitor.model.times import show_time
from monitor.model.units import to_micro
from monitor.model.work import WorkKind

_KINDS = {kind.value.replace(" ", "-"): kind for kind in WorkKind}
_ANSWERS = {
    "acknowledge": Answer.SEEN,
    "put-off": Answer.PUT_OFF,
    "take-up": Answer.TAKEN_UP,
    "out-of-service": Answer.OUT_OF_SERVICE,
    "back": Answer.BACK,
}
_UNITS = {"degf": "[degF]", "°f": "[degF]", "f": "[degF]", "degc": "Cel", "°c": "Cel", "c": "Cel", "cel": "Cel"}


@click.command()
@click.argument("what")
@click.argument("where")
@click.argument("rest", nargs=-1)
@click.option("--at", "at", metavar="TIME", help="When it was: 14:05, yesterday 18:00, 20 min ago, or RFC 3339.")
@click.option("--to", metavar="PLACE", help="Where it went (moved, split, merged).")
@click.option("--probe", metavar="PROBE", help="Which probe (probe-in, probe-out).")
@click.option("--amount", metavar="N", help="How much, such as 20.")
@click.option("--measure", metavar="UNIT", help="Of the amount, such as L or kg.")
@click.option("--by", metavar="NAME", help="Who did it.")
@click.option("--note", metavar="TEXT", help="Anything else.")
@click.option("--until", metavar="TIME", help="End of a put-off, such as `in 2 h`.")
@config_option
@json_option
def command(
    config_file: Path | None, as_json: bool, what: str, where: str, rest: tuple[str, ...], **given: Any
) -> None:
    """Write down what was done or seen, a temperature taken by hand, or an answer to an alarm.

    \b
    Examples:
      heaptender log turned p1 --at "20 min ago" --by Ann
      heaptender log watered p1 --amount 40 --measure L
      heaptender log fed b1 --amount 2 --measure kg
      heaptender log probe-in p1 --probe p1-a
      heaptender log reading p1 131 degF
      heaptender log acknowledge b1/overheating --by Ann
      heaptender log put-off b1/too-wet --until "in 12 h"
      heaptender log undo p1 2026-07-18T16:05:00.000Z
    """
    configuration = load_configuration(config_file)
    now = time.time_ns() // 1_000_000
    zone = configuration.settings.site.time_zone
    at = now if given["at"] is None else parse_when(given["at"], now, zone, "--at")
    if at > now:
        raise MisuseError("--at lies in the future; only what was done can be written down.")
    if what == "reading":
        kind, payload, words = _reading(configuration, where, rest, at)
    elif what == "undo":
        kind, payload, words = _undo(where, rest, given["by"], now, zone)
    elif what in _ANSWERS:
        kind, payload, words = _answer(configuration, what, where, given, now)
    else:
        kind, payload, words = _work(configuration, what, where, given, at)
    taken = ask(configuration, kind, payload)
    if as_json:
        event = {"kind": kind.value, "payload": payload, "at": None if taken.at is None else show_time(taken.at)}
        print_json(event)
        return
    moment = datetime.fromtimestamp(at / 1000, ZoneInfo(zone))
    key = "" if taken.at is None else f" (to take it back: heaptender log undo {where} {show_time(taken.at)})"
    click.echo(
        f"Written down: {words}, {moment:%a} {moment.day} {moment:%b %H:%M}.{key if kind is EventKind.WORK else ''}"
    )


_Entry = tuple[EventKind, dict[str, Any], str]


def _work(configuration: Configuration, what: str, where: str, given: dict[str, Any], at: int) -> _Entry:
    kind = _KINDS.get(what)
    if kind is None:
        right = near(what, [*_KINDS, *_ANSWERS, "reading", "undo"])
        raise MisuseError(f'"{what}" cannot be written down; {right}')
    payload: dict[str, Any] = {"time": at, "place": where, "kind": kind.value}
    payload |= {key: given[key] for key in ("to", "probe", "amount", "measure", "by", "note") if given[key]}
    amount = f" {given['amount']} {given['measure'] or ''}".rstrip() if given["amount"] else ""
    to = f" to {configuration.settings.place_name(given['to'])}" if given["to"] else ""
    probe = f" {given['probe']}" if given["probe"] else ""
    words = f"{configuration.settings.place_name(where)} {kind.value}{probe}{amount}{to}"
    return EventKind.WORK, payload, words


def _reading(configuration: Configuration, where: str, rest: tuple[str, ...], at: int) -> _Entry:
    settings = configuration.settings
    if where not in {**settings.piles, **settings.bins}:
        raise MisuseError(f'there is no pile or bin "{where}"; {near(where, [*settings.piles, *settings.bins])}')
    unit = _UNITS.get((rest[1] if len(rest) == 2 else settings.site.temperature_unit).lower())
    try:
        value = float(rest[0].replace(",", ".")) if len(rest) in (1, 2) else None
    except ValueError:
        value = None
    if value is None or unit is None:
        raise MisuseError("A hand reading is a number and a unit, such as `heaptender log reading p1 131 degF`.")
    payload = {"rows": [[at, hand_series(where), to_micro(value), unit]], "ahead": []}
    shown = f"{rest[0]} {'°F' if unit == '[degF]' else '°C'}"
    return EventKind.READINGS, payload, f"{settings.place_name(where)} {shown} by hand"


def _answer(configuration: Configuration, what: str, key: str, given: dict[str, Any], now: int) -> _Entry:
    answer = _ANSWERS[what]
    payload: dict[str, Any] = {"alarm": key, "answer": answer.value, "by": given["by"] or ""}
    if answer is Answer.PUT_OFF:
        if given["until"] is None:
            raise MisuseError('A put-off needs its end: --until "in 2 h".')
        payload["until"] = parse_when(given["until"], now, configuration.settings.site.time_zone, "--until")
        if payload["until"] <= now:
            raise MisuseError("--until lies in the past; a put-off ends later than now.")
    known = _alarm_keys(configuration)
    if known and key not in known:
        raise MisuseError(f'there is no alarm "{key}"; {near(key, known)}')
    return EventKind.ANSWER, payload, f"{key} {answer.value}"


def _undo(where: str, rest: tuple[str, ...], by: str | None, now: int, zone: str) -> _Entry:
    if len(rest) != 1:
        raise MisuseError("Say which entry: `heaptender log undo PLACE TIME`, with the time that `log` printed.")
    of = parse_when(rest[0], now, zone, "TIME")
    return EventKind.CORRECTION, {"of": of, "work": None, "by": by or ""}, f"entry of {rest[0]} at {where} taken back"


def _alarm_keys(configuration: Configuration) -> list[str]:
    from monitor.app.yard_view import yard_view  # noqa: PLC0415 (only an answer needs to look)

    with yard_view(configuration) as view:
        return sorted(view.engine.state.alarms)
