"""Reads the words of entries about the whole yard as people type them: a remark, a material and its amount, or an absence."""

import shlex
from collections.abc import Callable, Mapping, Sequence
from datetime import timedelta
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

from monitor.app.entries.entries import Entry, work_entry
from monitor.app.entries.last_units import last_unit
from monitor.app.entries.naming import place_meant
from monitor.configuration import Configuration
from monitor.model.absence_entry import absence_of
from monitor.model.errors import MisuseError
from monitor.model.forecast_entry import check_forecast
from monitor.model.settings import YARD, Settings
from monitor.model.times import show_time
from monitor.model.work import WorkKind
from monitor.model.work_kinds import ABSENCE, KindOfWork, declared, typed_words
from monitor.notices import local

Instant = Callable[[str, str], int]
"""Returns the instant (UTC ms) of a typed time that may lie ahead; the second text is the option that asked for it."""


def yard_entry(
    configuration: Configuration, what: str, words: Sequence[str], given: dict[str, Any], at: int, instant: Instant
) -> Entry:
    """Return the entry about the whole yard that was typed.

    Args:
        configuration: The yard's configuration.
        what: The typed word for the kind of work.
        words: The words after it; empty ones are left out.
        given: The command's options by name, which receive the words.
        at: When it was, UTC ms.
        instant: Reads the times of an absence.

    Raises:
        MisuseError: A field is given twice, as a word and as an option; it is missing, or means nothing.
    """
    kind, settings = typed_words()[what], configuration.settings
    _refuse_place(settings, declared(kind), [word for word in words if word])
    _put_words(declared(kind), [word for word in words if word], given)
    if is_absence(kind):
        put_absence(given, instant, at)
    if declared(kind).foretells:
        put_day(given, instant, settings, at)
    entry = work_entry(settings, what, YARD, given, at, partial(last_unit, configuration))
    if declared(kind).foretells:
        check_forecast(
            entry.payload, local(at, ZoneInfo(settings.site.time_zone)).date(), settings.site.temperature_unit
        )
    return entry


def _refuse_place(settings: Settings, row: KindOfWork, words: Sequence[str]) -> None:
    """Refuse a remark about the yard that begins with a pile or bin, as entries about places do.

    Raises:
        MisuseError: It does; the message says what would be right.
    """
    place = place_meant(settings, words[0]) if words and row.remark_only else ""
    if place not in settings.piles and place not in settings.bins:
        return
    rest = " ".join(words[1:]) or "WHAT"
    where = f" --spot {shlex.quote(words[0])}" if "spot" in row.fields else ""
    raise MisuseError(
        f'"{row.word}" concerns the whole yard, not {settings.place_name(place)}: write `heaptender log {row.word} '
        f"{rest}{where}`, or `heaptender log note {place} {rest}` for a remark about the place. A remark that begins with "
        "that name goes into quotes."
    )


def _put_words(row: KindOfWork, words: Sequence[str], given: dict[str, Any]) -> None:
    if len(words) > 1 and words[0].casefold() == YARD:
        words = words[1:]
    if row.remark_only:
        told = {"note": " ".join(words)}
    elif row.fields == ABSENCE:
        told = {"contact": " ".join(words)}
    else:
        # The amount begins at the first word with a digit in front: `delivery horse manure 2 t`.
        if words and words[0][:1].isdigit():
            raise MisuseError(
                f'"{words[0]}" is no material: write that first, then the amount, such as {row.word} leaves 3 yd3.'
            )
        split = next((at for at, word in enumerate(words) if at and word[:1].isdigit()), len(words))
        told = {"what": " ".join(words[:split]), "amount": " ".join(words[split:])}
    for name, text in told.items():
        if text and given.get(name):
            raise MisuseError(f'"{text}" does not go with "{row.word}"; --{name} says it already.')
        given[name] = text or given.get(name)


def put_absence(given: dict[str, Any], instant: Instant, now: int | None = None) -> None:
    """Turn the typed times of an absence into instants of the record.

    Args:
        given: The command's options by name; `from` and `to` are replaced.
        instant: Reads a time.
        now: If given, an absence without a beginning begins then, and one that is over is refused; UTC ms.

    Raises:
        MisuseError: A text is no time, or the absence is over already.
    """
    for name in ("from", "to"):
        if given.get(name):
            given[name] = show_time(instant(given[name], f"--{name}"))
    if now is not None:
        given["from"] = given.get("from") or show_time(now)
        if given.get("to") and given["to"] <= show_time(now):
            raise MisuseError("That absence is over already; say until when it lasts with --to, such as Dec 7 6pm.")


def put_day(given: dict[str, Any], instant: Instant, settings: Settings, at: int | None = None) -> None:
    """Turn the typed day of a forecast into that of the record.

    Args:
        given: The command's options by name; `day` is replaced.
        instant: Reads a time.
        settings: The yard's, for its time zone.
        at: If given, a forecast without a day is for the day after this instant, UTC ms.

    Raises:
        MisuseError: The text is no day.
    """
    zone = ZoneInfo(settings.site.time_zone)
    if given.get("day"):
        try:
            given["day"] = str(local(instant(f"{given['day']} 12:00", "--day"), zone).date())
        except MisuseError as fault:
            right = "write tomorrow, Jul 20 or 2026-07-20"
            raise MisuseError(f'--day: "{given["day"][:20]}" is no day; {right}.') from fault
    elif at is not None and (given.get("high") or given.get("low")):
        given["day"] = str(local(at, zone).date() + timedelta(days=1))


def nobody_left(configuration: Configuration, payload: Mapping[str, Any], now: int) -> list[str]:
    """Return sentences on the times within an absence just logged at which nobody is on duty.

    Args:
        configuration: The yard's configuration.
        payload: The absence.
        now: Now, UTC ms.
    """
    from monitor.app.yard.yard_view import yard_view  # noqa: PLC0415 (only an absence needs to look)

    found = absence_of(payload)
    if found is None:
        return []
    with yard_view(configuration) as view:
        return view.engine.nobody_on_duty(now, max(now, found[1]), found[2])


def is_absence(kind: WorkKind) -> bool:
    """Return whether a kind of work is an absence."""
    return declared(kind).fields == ABSENCE
