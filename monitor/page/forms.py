"""From what a form of the page says to the event that is put before the writer, or to a sentence that says what is wrong."""

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from monitor.engine import Engine
from monitor.engine.answerable import why_unanswerable
from monitor.model.amounts import UNITS, unit_shown
from monitor.model.errors import FieldError, MisuseError
from monitor.model.events import ENTRY_ID, Answer, EventKind
from monitor.model.hand_words import Taken, hand_rows, hand_value, round_words
from monitor.model.readings import hand_series
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.work import Work, WorkKind
from monitor.model.work_entry import fields_that_go_with, units_offered, work_fields
from monitor.model.work_kinds import Where, declared, kinds
from monitor.notices import meaning
from monitor.notices.localtime import instant, local, say_time
from monitor.page.times import from_field
from monitor.page.work_words import work_words

PILE_KINDS = tuple(row.kind for row in kinds(Where.PILE) if not row.probe)
BIN_KINDS = tuple(row.kind for row in kinds(Where.BIN) if not row.probe)
TARGETS = tuple(row.kind for row in kinds() if row.goes_somewhere)
_ENTRY_ID = re.compile(r"[A-Za-z0-9_-]{8,64}")
_TYPED = ("amount", "measure", "what", "source", "spot")
_LONGEST = 80
_NOTE_LENGTH = 2_000
_ALLOWED_AHEAD_MS = 2 * MINUTE_MS


@dataclass(frozen=True, slots=True)
class Wish:
    """An event to put before the writer, and what it says to people."""

    kind: EventKind
    payload: dict[str, Any]
    words: str


def work_wish(settings: Settings, place: str, form: Mapping[str, str], by: str, now: int) -> Wish:
    """Return a piece of work from a form: `kind`, and maybe `amount`, `measure`, `when`, `to`, `probe`, `note` and the rest.

    Raises:
        MisuseError: It cannot be meant.
    """
    try:
        kind = WorkKind(form.get("kind", ""))
    except ValueError as fault:
        raise FieldError("Choose what was done.", "kind") from fault
    row, note, time = declared(kind), _note(form), _when(form, settings, now)
    if kind is WorkKind.NOTE and not note:
        raise FieldError("The note is empty; write what you saw.", "note")
    told = {name: form.get(name, "").strip()[:_LONGEST] for name in _TYPED}
    if not told["amount"] or not row.dimensions:
        # The unit stands chosen in the form whether an amount is written or not; so may an amount from another kind.
        told["amount"] = told["measure"] = ""
    told |= {"by": by, "note": note}
    if row.goes_somewhere:
        told["to"] = _target(settings, place, form.get("to", ""))
    if row.probe:
        told["probe"] = form.get("probe", "")
        if told["probe"] not in settings.probes:
            raise FieldError("Choose the probe that was put in or taken out.", "probe")
    try:
        allowed = fields_that_go_with(kind)
        fields = work_fields(settings, kind, {name: text for name, text in told.items() if name in allowed})
    except MisuseError as fault:
        raise FieldError(str(fault), "amount") from fault
    payload: dict[str, Any] = {"time": time, "place": place, "kind": kind.value, **fields}
    words = work_words(settings, Work(**{**payload, "kind": kind}))
    return Wish(EventKind.WORK, payload | _entry_id(form), words)


def units_for(settings: Settings, kind: WorkKind, last: str = "") -> list[str]:
    """Return the units that a form offers for a kind of work, as people read them; the one used last comes first."""
    units = units_offered(settings, kind)
    first = [last] if last in UNITS and UNITS[last].dimension in declared(kind).dimensions else []
    return [unit_shown(unit) for unit in dict.fromkeys((*first, *units))]


def _entry_id(form: Mapping[str, str]) -> dict[str, str]:
    """Return the id under which a browser sends an entry, however often it does."""
    found = form.get("entry", "")
    return {ENTRY_ID: found} if _ENTRY_ID.fullmatch(found) else {}


def reading_wish(
    settings: Settings, place: str, form: Mapping[str, str], by: str, now: int, withdrawn: Collection[int] = ()
) -> Wish:
    """Return temperatures taken by hand: `value` where the place has one spot, `value_1`, `value_2`, … for its spots.

    `withdrawn` are the times of readings that were taken back: what is written down instead of one stands beside it, a
    thousandth of a second later, since a reading is named by its series and time for good.

    Raises:
        MisuseError: It is no number, or no temperature of a heap or bin.
    """
    spots = settings.spots_of(place)
    typed = [(spot, f"value_{number}") for number, spot in enumerate(spots, 1)]
    read = [(spot, _value(settings, form, field)) for spot, field in typed if form.get(field, "").strip()]
    if form.get("value", "").strip() or not read:
        read.append(("", _value(settings, form, "value")))
    at = _when(form, settings, now)
    while at in withdrawn:
        at += 1
    payload: dict[str, Any] = {"rows": hand_rows(place, at, read), "ahead": []}
    told = {"by": by, "note": _note(form), "with": " ".join(form.get("with", "").split())[:40]}
    payload |= {name: words for name, words in told.items() if words}
    meant = meaning(settings, place, [(hand_series(place, spot), one.milli) for spot, one in read], at, now)
    unread = [spot for spot, field in typed if not form.get(field, "").strip()] if len(read) > 1 else []
    words = [f"{round_words(read)}.", meant, f"Not read: {', '.join(unread)}." if unread else ""]
    return Wish(EventKind.READINGS, payload | _entry_id(form), " ".join(one for one in words if one).removesuffix("."))


def _value(settings: Settings, form: Mapping[str, str], field: str) -> Taken:
    try:
        return hand_value(settings, form.get(field, "").strip())
    except MisuseError as fault:
        raise FieldError(str(fault), field) from fault


def answer_wish(engine: Engine, form: Mapping[str, str], by: str, now: int) -> Wish:
    """Return an answer to an alarm from a form: `alarm`, `answer`, and for a put-off `until`.

    Raises:
        MisuseError: There is no such alarm, or the answer means nothing about it now.
    """
    key = form.get("alarm", "")
    try:
        answer = Answer(form.get("answer", ""))
    except ValueError as fault:
        raise MisuseError("Choose what to answer.") from fault
    if wrong := why_unanswerable(engine.state, key, answer):
        raise MisuseError(f"{wrong[:1].upper()}{wrong[1:]}.")
    payload: dict[str, Any] = {"alarm": key, "answer": answer.value, "by": by}
    words = "seen" if answer is Answer.SEEN else answer.value
    if answer is Answer.PUT_OFF:
        settings = engine.state.settings
        until = put_off_until(form.get("until", ""), settings, now)
        payload["until"] = until
        words = f"put off until {say_time(until, now, ZoneInfo(settings.site.time_zone))}"
    return Wish(EventKind.ANSWER, payload, words)


PUT_OFFS = ("2h", "evening", "morning", "week")


def put_off_words(settings: Settings, now: int) -> list[tuple[str, str]]:
    """Return how long an alarm can be put off by one tap, the shortest first: what the form says, and what people read."""
    zone = ZoneInfo(settings.site.time_zone)
    plain = {"2h": "for 2 h", "week": "for a week"}
    ends = sorted((put_off_until(one, settings, now), one) for one in PUT_OFFS)
    return [(one, plain.get(one) or f"until {say_time(until, now, zone)}") for until, one in ends]


def put_off_until(text: str, settings: Settings, now: int) -> int:
    """Return the end (UTC ms) of a put-off: `2h`, `evening`, `morning`, `week`, or a local time of a field.

    Raises:
        MisuseError: It is none of these, or lies in the past.
    """
    zone = ZoneInfo(settings.site.time_zone)
    if text == "2h":
        return now + 2 * HOUR_MS
    if text == "week":
        return now + 7 * DAY_MS
    if text in ("evening", "morning"):
        minute = 18 * 60 if text == "evening" else 7 * 60
        until = instant(local(now, zone).date(), minute, zone)
        return until if until > now else instant(local(now + DAY_MS, zone).date(), minute, zone)
    until_or_none = from_field(text, zone)
    if until_or_none is None or until_or_none <= now:
        raise MisuseError("Say until when: a time that is still to come.")
    if until_or_none > now + 60 * DAY_MS:
        raise MisuseError("That is more than 60 days ahead; put it off for a shorter time.")
    return until_or_none


def undo_wish(at: int, by: str, reading: tuple[int, str] | None = None) -> Wish:
    """Return the taking back of a piece of work, named by the instant of its event; or of a reading by hand.

    `reading` is its (time, series joined by `|`): it stays in the record, flagged, and nobody goes by it any more.
    """
    payload: dict[str, Any] = {"of": at, "work": None, "by": by}
    if reading is not None:
        several = [{"time": reading[0], "probe": series} for series in reading[1].split("|")]
        payload |= {"reading": several[0]} if len(several) == 1 else {"readings": several}
    return Wish(EventKind.CORRECTION, payload, "taken back")


def _when(form: Mapping[str, str], settings: Settings, now: int) -> int:
    text = form.get("when", "").strip()
    if not text:
        return now
    at = from_field(text, ZoneInfo(settings.site.time_zone))
    if at is None:
        raise FieldError("That is no time; leave it empty for now.", "when")
    if at > now + _ALLOWED_AHEAD_MS:
        raise FieldError("That lies in the future; only what was done can be written down.", "when")
    return min(at, now)


def _note(form: Mapping[str, str]) -> str:
    # Line ends stay; what else steers a terminal goes. The page escapes what it shows, whatever stands here.
    text = form.get("note", "").replace("\r\n", "\n").strip()[:_NOTE_LENGTH]
    return "".join(sign for sign in text if sign == "\n" or sign.isprintable())


def _target(settings: Settings, place: str, to: str) -> str:
    if to not in settings.piles or to == place:
        raise FieldError("Choose the pile that it went to.", "to")
    return to
