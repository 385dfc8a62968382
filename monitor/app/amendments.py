"""Taking an entry of the work log back, and putting it right; both are events of their own, and nothing is erased.

A reading taken by hand can be taken back too: it stays in the record, flagged as withdrawn.

An entry is named by the instant that `log` printed, by the minute in which it was done or entered, or not at all: then the
newest of the place is meant.
"""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from monitor.app.effect_words import local_time
from monitor.app.entries import MOVES, Entry, allow, options_of, work_fields, work_words
from monitor.app.hand_log import hand_log
from monitor.app.work_log import Entered, work_log
from monitor.configuration import Configuration
from monitor.journal import open_reader
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.model.readings import HandRead, hand_series
from monitor.model.times import MINUTE_MS, show_time
from monitor.model.units import show_temperature, to_milli
from monitor.model.work import Work, WorkKind

_LIE = "Where heaps lie is not changed by it; log what was done instead, too."
_HAND_MOST = 500
"""How many readings by hand are looked through, the newest."""
_BATCHES = (*MOVES, WorkKind.EMPTIED)


def undo_entry(configuration: Configuration, place: str, of: int | None, given: Mapping[str, Any]) -> Entry:
    """Return the taking back of an entry; `of` (UTC ms) names it, None the newest of the place.

    Raises:
        MisuseError: There is no such entry, or it was taken back already.
    """
    allow("undo", given, ("by",))
    by_hand = _read_by_hand(configuration, place, of)
    if by_hand is not None:
        return _withdrawal(configuration, place, by_hand, given["by"] or "")
    found = _find(configuration, place, of)
    work = _standing(found)
    payload = {"of": found.at, "work": None, "by": given["by"] or ""}
    remark = _LIE if work.kind in (*_BATCHES, WorkKind.BUILT) else ""
    return Entry(EventKind.CORRECTION, payload, work.time, f"taken back: {_words(configuration, work)}", remark)


def _read_by_hand(configuration: Configuration, place: str, of: int | None) -> HandRead | None:
    """Return the reading taken by hand that is named by `of`; by None, where nothing was entered later."""
    with open_reader(configuration.data) as store:
        read = hand_log(store, place, most=_HAND_MOST)
        if of is not None:
            exactly = [one for one in read if one.at == of]
            if exactly:
                return exactly[0]
            works = [one for one in work_log(store) if place in (one.logged.place, one.logged.to)]
            if any(of in (one.at, _minute(one.at), _minute(one.logged.time)) for one in works):
                return None
            near = [one for one in read if of in (_minute(one.at), _minute(one.time))]
            return near[0] if len({one.at for one in near}) == 1 else None
        newest = max((one for one in read if not one.imported), key=lambda one: one.at, default=None)
        if newest is None:
            return None
        works = [
            one for one in work_log(store)
            if one.work is not None and not one.imported and place in (one.logged.place, one.logged.to)
        ]  # fmt: skip
        return newest if all(one.at < newest.at for one in works) else None


def _withdrawal(configuration: Configuration, place: str, read: HandRead, by: str) -> Entry:
    settings = configuration.settings
    with open_reader(configuration.data) as store:
        # A round is one entry: it is taken back whole.
        whole = (
            [read] if read.imported else [one for one in hand_log(store, place, most=_HAND_MOST) if one.at == read.at]
        )
    unit = settings.site.temperature_unit
    shown = ", ".join(f"{one.spot} {show_temperature(to_milli(one.micro, one.unit), unit)}".strip() for one in whole)
    readings = [{"time": one.time, "probe": hand_series(place, one.spot)} for one in whole]
    payload: dict[str, Any] = {"of": read.at, "work": None, "by": by}
    payload |= {"reading": readings[0]} if len(readings) == 1 else {"readings": readings}
    words = f"taken back: {settings.place_name(place)} {shown} by hand"
    return Entry(EventKind.CORRECTION, payload, read.time, words, "It stays in the record, flagged.")


def correct_entry(
    configuration: Configuration, place: str, of: int | None, given: Mapping[str, Any], at: int | None
) -> Entry:
    """Return an entry put right with the options that were given; `at` is its right time, None: as it was.

    Raises:
        MisuseError: There is no such entry, it was taken back, or nothing about it changes.
    """
    found = _find(configuration, place, of)
    work = _standing(found)
    allow(f"correct {work.kind.value}", given, options_of(work.kind))
    before = {entry.name: getattr(work, entry.name) for entry in fields(Work)}
    payload = {name: value for name, value in before.items() if value not in (None, "")} | {"kind": work.kind.value}
    right = payload | work_fields(given) | ({} if at is None else {"time": at})
    if right == payload:
        raise MisuseError("Nothing about it would change; say what is right, such as --at 14:05 or --amount 20.")
    remark = _LIE if work.kind in _BATCHES else ""
    words = f"put right: {work_words(configuration.settings, right)}"
    wholly = {"of": found.at, "work": right, "by": given["by"] or work.by}
    return Entry(EventKind.CORRECTION, wholly, right["time"], words, remark)


def _standing(found: Entered) -> Work:
    assert found.work is not None
    return found.work


def _words(configuration: Configuration, work: Work) -> str:
    told = {entry.name: getattr(work, entry.name) for entry in fields(Work)} | {"kind": work.kind.value}
    return work_words(configuration.settings, told)


def _find(configuration: Configuration, place: str, of: int | None) -> Entered:
    with open_reader(configuration.data) as store:
        entries = [one for one in work_log(store) if not one.imported and place in (one.logged.place, one.logged.to)]
    if not entries:
        raise MisuseError(f'nothing is written down for "{place}".')
    standing = [one for one in entries if one.work is not None]
    if of is None:
        if not standing:
            raise MisuseError(f'all that was written down for "{place}" is taken back already.')
        return standing[-1]
    if any(one.at == of for one in entries):
        exactly = [one for one in standing if one.at == of]
        if not exactly:
            raise MisuseError(f"the entry of {show_time(of)} is taken back already.")
        return exactly[0]
    near = [one for one in standing if of in (_minute(one.at), _minute(_standing(one).time))]
    if len(near) == 1:
        return near[0]
    newest = (standing or entries)[-1]
    when = local_time(newest.logged.time, configuration.settings)
    what = f"{len(near)} entries" if near else "no entry"
    raise MisuseError(
        f'there is {what} of "{place}" at that time; the newest is "{newest.logged.kind.value}" of {when}, '
        f"which is {show_time(newest.at)}."
    )


def _minute(instant: int) -> int:
    return instant // MINUTE_MS * MINUTE_MS
