"""Taking an entry of the work log back, and putting it right; both are events of their own, and nothing is erased.

An entry is named by the instant that `log` printed, by the minute in which it was done or entered, or not at all: then the
newest of the place is meant.
"""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from monitor.app.effect_words import local_time
from monitor.app.entries import MOVES, Entry, allow, options_of, work_fields, work_words
from monitor.app.work_log import Entered, work_log
from monitor.configuration import Configuration
from monitor.journal import open_reader
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.model.times import MINUTE_MS, show_time
from monitor.model.work import Work, WorkKind

_LIE = "Where heaps lie is not changed by it; log what was done instead, too."
_BATCHES = (*MOVES, WorkKind.EMPTIED)


def undo_entry(configuration: Configuration, place: str, of: int | None, given: Mapping[str, Any]) -> Entry:
    """Return the taking back of an entry; `of` (UTC ms) names it, None the newest of the place.

    Raises:
        MisuseError: There is no such entry, or it was taken back already.
    """
    allow("undo", given, ("by",))
    found = _find(configuration, place, of)
    work = _standing(found)
    payload = {"of": found.at, "work": None, "by": given["by"] or ""}
    remark = _LIE if work.kind in (*_BATCHES, WorkKind.BUILT) else ""
    return Entry(EventKind.CORRECTION, payload, work.time, f"taken back: {_words(configuration, work)}", remark)


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
