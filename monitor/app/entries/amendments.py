"""Takes an entry back, or puts it right; both are new events, and nothing is erased.

People name an entry by its number, or by its place and an instant: when it came into the record, or the minute in which it was
done or entered. A place alone means its newest entry. A reading by hand that is taken back stays in the record, flagged; the
right value is written down as another reading.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import Any

from monitor.app.entries.entries import OPTIONS, Entry, allow, fields_given, options_of, work_words
from monitor.app.entries.entry_log import Numbered, entry_log
from monitor.app.entries.hand_entries import reading_entry
from monitor.app.entries.naming import place_meant
from monitor.app.entries.yard_words import Instant, is_absence, put_absence, put_day
from monitor.app.yard.effect_words import local_time
from monitor.configuration import Configuration
from monitor.journal import open_reader
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.model.hand_words import spot_meant
from monitor.model.mix_parts import parts_said
from monitor.model.readings import HandRead, hand_series
from monitor.model.settings import Settings
from monitor.model.times import MINUTE_MS
from monitor.model.units import show_temperature, to_milli
from monitor.model.work import Work, WorkKind
from monitor.model.work_entry import fields_that_go_with
from monitor.model.work_kinds import declared

_NUMBER = re.compile(r"#?([1-9][0-9]{0,8})")


def undo_entry(configuration: Configuration, where: str, of: int | None, given: Mapping[str, Any]) -> Entry:
    """Return the entry that takes another back.

    Args:
        configuration: The yard's configuration.
        where: The entry's number, or its place.
        of: Which entry of the place, UTC ms; None: the newest.
        given: The command's options by name; only `by` and `again` are allowed.

    Raises:
        MisuseError: There is no such entry, or it was taken back already.
    """
    allow("undo", given, ("by", "again"))
    found = _named(configuration, where, of)
    words = f"{found.number} taken back: {entry_words(configuration.settings, found)}"
    payload = _names(found) | {"by": given["by"] or ""}
    remark = "It stays in the record, flagged." if found.readings else ""
    return Entry(EventKind.CORRECTION, payload, found.time, words, remark)


def correct_entry(
    configuration: Configuration,
    where: str,
    of: int | None,
    value: tuple[str, ...],
    given: Mapping[str, Any],
    at: int | None,
    instant: Instant,
) -> list[Entry]:
    """Return the entries that put another right, to be entered one after the other.

    Args:
        configuration: The yard's configuration.
        where: The entry's number, or its place.
        of: Which entry of the place, UTC ms; None: the newest.
        value: A reading's right value, with or without its unit; () for work.
        given: The command's options by name; those that are set replace what was entered.
        at: The right time, UTC ms; None: unchanged.
        instant: Reads the times of an absence.

    Raises:
        MisuseError: There is no such entry, it was taken back, or nothing about it would change.
    """
    found = _named(configuration, where, of)
    if found.readings:
        return _correct_reading(configuration, found, value, given, at)
    work = found.work
    assert work is not None
    if value:
        raise MisuseError(f'"{value[0]}" does not go with "correct"; put what has spaces in it into quotes.')
    allow(f"correct {work.kind.value}", given, options_of(work.kind) | {"place"})
    if work.parts and not given.get("parts") and any(given.get(one) for one in ("amount", "measure", "what")):
        raise MisuseError(
            f"Entry {found.number} says what was thrown together; put it right as a whole, "
            f'such as --parts "{parts_said(work.parts)}".'
        )
    given = dict(given)
    if is_absence(work.kind):
        put_absence(given, instant)
    if declared(work.kind).foretells:
        put_day(given, instant, configuration.settings)
    before = {entry.name: getattr(work, entry.name) for entry in fields(Work)}
    payload = {name: told for name, told in before.items() if told not in (None, "")} | {"kind": work.kind.value}
    settings = configuration.settings
    right = (
        payload
        | fields_given(settings, work.kind, _with_amount(payload, given), whole=False)
        | ({} if at is None else {"time": at})
    )
    emptied = {name for name in fields_that_go_with(work.kind) if given.get(OPTIONS.get(name, name)) == ""}
    if "amount" in emptied:
        emptied |= {"measure", "unit"}
    right = {name: told for name, told in right.items() if name not in emptied}
    if given.get("place"):
        right["place"] = place_meant(settings, given["place"])
    if right == payload:
        raise MisuseError("Nothing about it would change; say what is right, such as --at 14:05 or --amount 20.")
    words = f"{found.number} put right: {work_words(settings, right)}"
    wholly = _names(found) | {"work": right, "by": given["by"] or work.by}
    return [Entry(EventKind.CORRECTION, wholly, right["time"], words, _whom_to_tell(found, right))]


def _whom_to_tell(found: Numbered, right: Mapping[str, Any]) -> str:
    """Return how to find who has some of a delivery of which a risk is known only now; "" if none is new."""
    work = found.work
    if work is None or work.kind is not WorkKind.DELIVERY:
        return ""
    new = {one.strip() for one in str(right.get("risk") or "").split(",")} - {
        one.strip() for one in work.risk.split(",")
    }
    if not new - {"", "none"}:
        return ""
    return f"Who may have some of it already: heaptender lots recall d{found.number}"


def _with_amount(payload: Mapping[str, Any], given: Mapping[str, Any]) -> dict[str, Any]:
    """Return the options with both amount and unit if only one of them is put right; the entry supplies the other."""
    told = dict(given)
    if told.get("amount") and not told.get("measure") and not re.search(r"[^\d.,/ ]", told["amount"]):
        told["measure"] = payload.get("measure") or payload.get("unit")
    elif told.get("measure") and not told.get("amount"):
        told["amount"] = payload.get("amount")
    return told


def _correct_reading(
    configuration: Configuration, found: Numbered, value: tuple[str, ...], given: Mapping[str, Any], at: int | None
) -> list[Entry]:
    allow("correct", given, {"at", "by", "note", "spot", "depth", "with", "again"})
    if not value and at is None:
        raise MisuseError(f"Say what is right: heaptender log correct {found.number} 131 degF, or --at 14:05.")
    read = _one_of(configuration.settings, found, given)
    time = read.time if at is None else at
    # Series and time name a reading for good, even one taken back; so the right one stands a millisecond later.
    time += 1 if time == read.time else 0
    code = {"[degF]": "degF", "Cel": "degC"}.get(read.unit, read.unit)
    right = value or (f"{read.micro / 1e6:g}", code)
    told = dict.fromkeys(("by", "note", "with", "depth")) | dict(given) | {"at": None, "spot": read.spot or None}
    new = reading_entry(configuration, found.place, right, told, time)
    gone = {"of": found.at, "work": None, "by": given["by"] or "",
            "reading": {"time": read.time, "probe": hand_series(found.place, read.spot)}}  # fmt: skip
    back = Entry(EventKind.CORRECTION, gone, found.time, f"{found.number} taken back")
    return [back, replace(new, words=f"{found.number} put right: {new.words}")]


def _one_of(settings: Settings, found: Numbered, given: Mapping[str, Any]) -> HandRead:
    """Return the reading of an entry that is meant: in a round, that of the named spot."""
    reads = [read for _, read in found.readings]
    if len(reads) == 1 and not given.get("spot"):
        return reads[0]
    spot = spot_meant(settings, found.place, given["spot"]) if given.get("spot") else None
    one = next((read for read in reads if read.spot == spot), None)
    if one is None:
        spots = ", ".join(read.spot for read in reads)
        raise MisuseError(f"Entry {found.number} is of {spots}; say which with --spot.")
    return one


def is_number(settings: Settings, where: str) -> bool:
    """Return whether a text is an entry's number and no place."""
    place = place_meant(settings, where)
    return _NUMBER.fullmatch(where) is not None and place not in {**settings.piles, **settings.bins}


def entry_words(settings: Settings, one: Numbered) -> str:
    """Return an entry in words for people."""
    if one.readings:
        unit = settings.site.temperature_unit
        reads = [(read.spot, show_temperature(to_milli(read.micro, read.unit), unit)) for _, read in one.readings]
        said = ", ".join(f"{shown} at {spot}" if spot else shown for spot, shown in reads)
        return f"{settings.place_name(one.place)} {said} by hand"
    assert one.work is not None
    told = {entry.name: getattr(one.work, entry.name) for entry in fields(Work)} | {"kind": one.work.kind.value}
    return work_words(settings, told)


def _names(found: Numbered) -> dict[str, Any]:
    """Return the part of a correction's payload that names an entry and withdraws it."""
    named: dict[str, Any] = {"of": found.at, "work": None}
    if found.entered is not None and found.entered.row:
        named["row"] = found.entered.row
    if found.readings:
        # A round is one entry, so all its readings are taken back together.
        gone = [{"time": read.time, "probe": series} for series, read in found.readings]
        named |= {"reading": gone[0]} if len(gone) == 1 else {"readings": gone}
    return named


def _named(configuration: Configuration, where: str, of: int | None) -> Numbered:
    settings = configuration.settings
    with open_reader(configuration.data) as store:
        entries = entry_log(store, [*settings.piles, *settings.bins])
    place = place_meant(settings, where)
    if is_number(settings, where):
        number = int(where.removeprefix("#"))
        found = next((one for one in entries if one.number == number), None)
        if found is None:
            raise MisuseError(f"There is no entry {number}; `heaptender log list` shows all.")
        return _standing(found)
    return _of_place(settings, [one for one in entries if one.is_of(place)], place, of)


def _standing(found: Numbered) -> Numbered:
    if found.undone:
        raise MisuseError(f"Entry {found.number} is taken back already.")
    return found


def _of_place(settings: Settings, entries: Sequence[Numbered], place: str, of: int | None) -> Numbered:
    if not entries:
        raise MisuseError(f'nothing is written down for "{place}".')
    standing = [one for one in entries if not one.undone]
    if of is None:
        own = [one for one in standing if not one.imported]
        if not own:
            why = "taken back already" if not standing else "from a file: name it by its number"
            raise MisuseError(
                f'all that was written down for "{place}" is {why}; `heaptender log list {place}` shows it.'
            )
        return own[-1]
    exactly = [one for one in entries if one.at == of]
    if exactly:
        return _standing(next((one for one in exactly if not one.undone), exactly[0]))
    near = [one for one in standing if of in (_minute(one.at), _minute(one.time))]
    if len(near) == 1:
        return near[0]
    newest = (standing or entries)[-1]
    when = local_time(newest.time, settings)
    what = f"{len(near)} entries" if near else "no entry"
    raise MisuseError(
        f'there is {what} of "{place}" at that time; the newest is {newest.number}: {entry_words(settings, newest)}, {when}.'
    )


def _minute(instant: int) -> int:
    return instant // MINUTE_MS * MINUTE_MS
