"""Turns the form of a piece of work into the event for the writer, or into a sentence that says what is wrong."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

from monitor.model.amounts import UNITS, unit_shown
from monitor.model.delivery_risks import RISKS
from monitor.model.errors import FieldError, MisuseError
from monitor.model.events import EventKind
from monitor.model.forecast_entry import FORECAST, check_forecast
from monitor.model.settings import Settings
from monitor.model.times import show_time
from monitor.model.work import Work, WorkKind
from monitor.model.work_entry import EMPTY_NOTE, fields_that_go_with, units_offered, work_fields
from monitor.model.work_kinds import ABSENCE, FIGURES, SIGHTS, Where, declared, kinds
from monitor.notices import local
from monitor.page.forms.wish import Wish, entry_id_of, note_of, when_of
from monitor.page.places.page_times import from_field
from monitor.page.places.work_lines import work_words

PILE_KINDS = tuple(row.kind for row in kinds(Where.PILE) if not row.probe)
BIN_KINDS = tuple(row.kind for row in kinds(Where.BIN) if not row.probe)
TARGETS = tuple(row.kind for row in kinds() if row.goes_somewhere)
_TYPED = (
    "amount", "measure", "what", "source", "spot", "parts", "refused", "lot", "receiver", "price", "test", "result",
    "photo", *SIGHTS, *FIGURES, *FORECAST,
)  # fmt: skip
_LONGEST = 80
_LONGER = {"parts": 1_000}
"""Most characters of a field that names all that went into a mix."""


def work_wish(settings: Settings, place: str, form: Mapping[str, str], by: str, now: int) -> Wish:
    """Return the wish of a work form.

    Args:
        settings: The yard's settings.
        place: Id of the place.
        form: Has `kind`, and may have `amount`, `measure`, `when`, `to`, `probe`, `note` and the rest.
        by: Who did it.
        now: The daemon's time, UTC ms.

    Raises:
        FieldError: A field is missing or wrong; the error names it.
    """
    try:
        kind = WorkKind(form.get("kind", ""))
    except ValueError as fault:
        raise FieldError("Choose what was done.", "kind") from fault
    row, note, time = declared(kind), note_of(form), when_of(form, settings, now)
    if row.remark_only and not note and not (row.foretells and (form.get("high") or form.get("low"))):
        raise FieldError(f"{EMPTY_NOTE[:1].upper()}{EMPTY_NOTE[1:]}.", "note")
    told = {name: form.get(name, "").strip()[: _LONGER.get(name, _LONGEST)] for name in _TYPED}
    if not told["amount"] or not row.dimensions:
        # A form always sends its chosen unit, and may send an amount typed for another kind of work.
        told["amount"] = told["measure"] = ""
    told |= {"by": by, "note": note, "risk": ",".join(risk for risk in RISKS if form.get(f"risk_{risk}"))}
    if row.fields == ABSENCE:
        told |= _absence(settings, form, now)
    if row.goes_somewhere:
        told["to"] = _target(settings, place, form.get("to", ""))
    if row.probe:
        told["probe"] = form.get("probe", "")
        if told["probe"] not in settings.probes:
            raise FieldError("Choose the probe that was put in or taken out.", "probe")
    try:
        allowed = fields_that_go_with(kind)
        if row.foretells:
            told |= _forecast(settings, told, time)
        fields = work_fields(settings, kind, {name: text for name, text in told.items() if name in allowed})
    except MisuseError as fault:
        named = fault.field if isinstance(fault, FieldError) else "worms" if row.sights else "amount"
        raise FieldError(str(fault), named) from fault
    payload: dict[str, Any] = {"time": time, "place": place, "kind": kind.value, **fields}
    words = work_words(settings, Work(**{**payload, "kind": kind}))
    return Wish(EventKind.WORK, payload | entry_id_of(form), words)


def _absence(settings: Settings, form: Mapping[str, str], now: int) -> dict[str, str]:
    """Return the fields of an absence; one without a beginning begins now.

    Raises:
        FieldError: A time is none, or the absence is over already.
    """
    zone, told = (
        ZoneInfo(settings.site.time_zone),
        {"contact": form.get("contact", "")[:_LONGEST], "start": show_time(now)},
    )
    for name in ("start", "end"):
        if text := form.get(name, "").strip():
            at = from_field(text, zone)
            if at is None:
                raise FieldError("That is no time.", name)
            told[name] = show_time(at)
    if told.get("end", show_time(now + 1)) <= show_time(now):
        raise FieldError("That absence is over already; say until when it lasts.", "end")
    return told


def _forecast(settings: Settings, told: Mapping[str, str], time: int) -> dict[str, str]:
    """Return the fields of a forecast; one without a day is for the day after `time` (UTC ms).

    Raises:
        FieldError: Nothing can be expected from it.
    """
    if not told["high"] and not told["low"]:
        return {"day": ""}
    today = local(time, ZoneInfo(settings.site.time_zone)).date()
    day = told["day"] or str(today + timedelta(days=1))
    fields = work_fields(settings, WorkKind.WEATHER, {"day": day, "high": told["high"], "low": told["low"]})
    check_forecast(fields, today, settings.site.temperature_unit)
    return {"day": day}


def units_for(settings: Settings, kind: WorkKind, last: str = "") -> list[str]:
    """Return the units that a form offers for a kind of work, as people read them.

    Args:
        settings: The yard's settings, which decide between metric and customary units.
        kind: The kind of work.
        last: The unit used last, which comes first; "" for none.
    """
    units = units_offered(settings, kind)
    first = [last] if last in UNITS and UNITS[last].dimension in declared(kind).dimensions else []
    return [unit_shown(unit) for unit in dict.fromkeys((*first, *units))]


def undo_wish(at: int, by: str, reading: tuple[int, str] | None = None) -> Wish:
    """Return the wish that takes back an entry.

    Args:
        at: The instant of its event, UTC ms.
        by: Who takes it back.
        reading: For readings by hand, their (time, series joined by `|`); they stay in the record, flagged, and count no more.
    """
    payload: dict[str, Any] = {"of": at, "work": None, "by": by}
    if reading is not None:
        several = [{"time": reading[0], "probe": series} for series in reading[1].split("|")]
        payload |= {"reading": several[0]} if len(several) == 1 else {"readings": several}
    return Wish(EventKind.CORRECTION, payload, "taken back")


def _target(settings: Settings, place: str, to: str) -> str:
    if to not in settings.piles or to == place:
        raise FieldError("Choose the pile that it went to.", "to")
    return to
