"""The form that mends an entry: a field for each thing that the entry says, and what a sent form changes about it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from monitor.model.amounts import UNITS, unit_shown
from monitor.model.delivery_risks import RISKS
from monitor.model.errors import FieldError
from monitor.model.settings import AMBIENT, YARD, Settings
from monitor.model.sightings import SIGHTINGS
from monitor.model.times import parse_time, show_time
from monitor.model.units import unit_sign
from monitor.model.work import Work
from monitor.model.work_entry import fields_that_go_with
from monitor.model.work_kinds import KindOfWork, Where, declared
from monitor.page.forms.wish import note_of, when_of
from monitor.page.forms.work_form import units_for
from monitor.page.mending_ports import LoggedEntry
from monitor.page.places.page_times import for_field, from_field

_LABELS = {
    "what": "What", "source": "From whom", "spot": "Where in it", "parts": "What went in", "refused": "Refused, because",
    "batch": "Which heap", "with": "Thermometer", "to": "To", "probe": "Probe", "contact": "Who is away", "start": "Away from",
    "end": "Back at", "receiver": "To whom",
}  # fmt: skip
_LONGEST = {"parts": 1_000, "note": 2_000}
_SHORT = ("moisture", "fines", "middle", "overs", "depth", "price")
_TIMES = ("start", "end")
_APART = ("amount", "measure", "by", "note", "photo", "risk")
"""Fields that the sheet shows by themselves."""


@dataclass(frozen=True, slots=True)
class MendField:
    """A field of the form.

    Attributes:
        name: Its name.
        label: What people call it.
        value: What the entry says.
        kind: `text`, `short`, `long`, `time`, `number` or `choice`.
        choices: Of a choice: (value, words).
        needed: Whether it must not be empty.
        unit: A word behind it, or "".
    """

    name: str
    label: str
    value: str
    kind: str = "text"
    choices: tuple[tuple[str, str], ...] = ()
    needed: bool = False
    unit: str = ""


def mend_fields(settings: Settings, entry: LoggedEntry) -> list[MendField]:
    """Return the fields of an entry, beside its time, amount, author and remark.

    Args:
        settings: The yard's settings.
        entry: The entry.
    """
    if entry.work is None:
        return _of_readings(settings, entry)
    work, row = entry.work, declared(entry.work.kind)
    names = [name for name in fields_that_go_with(work.kind) if name not in _APART]
    if work.parts:
        # An entry that says what was thrown together has no material of its own.
        names = [name for name in names if name != "what"]
    elif work.what or work.amount:
        names = [name for name in names if name != "parts"]
    return [*_place_field(settings, work, row), *(_field(settings, work, row, name) for name in names)]


def amount_of(settings: Settings, entry: LoggedEntry) -> tuple[str, str, list[str]] | None:
    """Return the amount of an entry, its unit, and the units to choose from; None if there is none to tell.

    Args:
        settings: The yard's settings.
        entry: The entry.
    """
    work = entry.work
    if work is None or not declared(work.kind).dimensions or work.parts:
        return None
    units = units_for(settings, work.kind, work.unit)
    shown = unit_shown(work.unit) if work.unit in UNITS else work.measure
    return work.amount, shown or units[0], list(dict.fromkeys((shown or units[0], *units)))


def note_said(entry: LoggedEntry) -> str:
    """Return the remark of an entry, or ""."""
    return entry.work.note if entry.work is not None else entry.reads[0].note


def mend_changes(
    settings: Settings, entry: LoggedEntry, form: Mapping[str, str], by: str, now: int
) -> tuple[dict[str, str], int | None]:
    """Return the changes that a form makes to an entry: texts by field, and its time (UTC ms), None if that stays.

    Args:
        settings: The yard's settings.
        entry: The entry.
        form: The form.
        by: Who did the work, as the form says.
        now: The daemon's time, UTC ms.

    Raises:
        FieldError: A field is empty that must not be, or a time is none.
    """
    told: dict[str, str] = {}
    for field in mend_fields(settings, entry):
        if field.name not in form:
            continue
        text = form[field.name].strip()[: _LONGEST.get(field.name, 80)]
        if text == field.value:
            continue
        if field.needed and not text:
            raise FieldError(f"{field.label}: leave it as it was, or say what is right.", field.name)
        told[field.name] = _instant(settings, text, field.name) if field.kind == "time" and text else text
    told |= _amount_changes(settings, entry, form)
    if "note" in form and (note := note_of(form)) != note_said(entry).strip().replace("\r\n", "\n"):
        if not note and entry.work is not None and declared(entry.work.kind).remark_only:
            raise FieldError("It is nothing but its remark; take it back if it was wrong.", "note")
        told["note"] = note
    if by != entry.by:
        told["by"] = by
    told |= _ticked_and_chosen(entry, form)
    return told, _time_changed(settings, entry, form, now)


def _ticked_and_chosen(entry: LoggedEntry, form: Mapping[str, str]) -> dict[str, str]:
    """Return the changes that the form makes to the risks of an entry and to its photo, which is "" if the entry loses it."""
    work, told = entry.work, dict[str, str]()
    if work is None:
        return told
    photo = form.get("photo", "") or ("" if form.get("photo_off") else work.photo)
    if photo != work.photo:
        told["photo"] = photo
    if "risk" in fields_that_go_with(work.kind):
        risks = ",".join(risk for risk in RISKS if form.get(f"risk_{risk}"))
        if risks != work.risk:
            told["risk"] = risks
    return told


def _time_changed(settings: Settings, entry: LoggedEntry, form: Mapping[str, str], now: int) -> int | None:
    text = form.get("when", "").strip()
    # A field knows minutes; a time that nobody touched keeps its seconds.
    if not text or text[:16] == for_field(entry.time, ZoneInfo(settings.site.time_zone)):
        return None
    return when_of(form, settings, now)


def _amount_changes(settings: Settings, entry: LoggedEntry, form: Mapping[str, str]) -> dict[str, str]:
    shown = amount_of(settings, entry)
    if shown is None or "amount" not in form:
        return {}
    amount, measure = form["amount"].strip()[:80], form.get("measure", "").strip()[:80]
    if amount == shown[0] and (measure == shown[1] or not amount):
        return {}
    if not amount:
        work = entry.work
        assert work is not None
        if "amount" in declared(work.kind).needs:
            raise FieldError("Say how much it was.", "amount")
        return {"amount": "", "measure": ""}
    # Who types `3 gal` has named the unit already.
    return {"amount": amount, "measure": measure} if not any(map(str.isalpha, amount)) else {"amount": amount}


def _place_field(settings: Settings, work: Work, row: KindOfWork) -> Iterable[MendField]:
    places = [
        *(settings.piles if Where.PILE in row.where else ()),
        *(settings.bins if Where.BIN in row.where else ()),
        *((AMBIENT,) if Where.AIR in row.where else ()),
        *((YARD,) if Where.YARD in row.where else ()),
    ]
    if len(places) > 1:
        names = {AMBIENT: "the air of the yard", YARD: "the whole yard"}
        known = dict.fromkeys((work.place, *places))
        choices = tuple((one, names.get(one) or settings.place_name(one)) for one in known)
        yield MendField("place", "Where", work.place, "choice", choices, needed=True)


def _field(settings: Settings, work: Work, row: KindOfWork, name: str) -> MendField:
    value, label, needed = str(getattr(work, name)), _LABELS.get(name, name.capitalize()), name in row.needs
    choices: Iterable[tuple[str, str]] = ()
    if name in SIGHTINGS:
        choices = (("", ""), *((word, word) for word in SIGHTINGS[name]))
    elif name == "to":
        choices = ((one, settings.place_name(one)) for one in {value: 0, **dict.fromkeys(settings.piles)})
    elif name == "probe":
        choices = (
            (one, settings.probes[one].name or one if one in settings.probes else one)
            for one in {value: 0, **settings.probes}
        )
    elif name == "contact":
        choices = ((one, settings.contact_name(one)) for one in {value: 0, **settings.contacts})
    if choices:
        return MendField(name, label, value, "choice", tuple(choices), needed=needed or row.goes_somewhere or row.probe)
    if name in _TIMES:
        return MendField(name, label, _local(settings, value), "time", needed=True)
    kind = "long" if name in _LONGEST else "short" if name in _SHORT else "text"
    return MendField(name, label, value, kind, needed=needed)


def _of_readings(settings: Settings, entry: LoggedEntry) -> list[MendField]:
    own = settings.site.temperature_unit
    fields = []
    for read in entry.reads:
        shown = unit_sign(read.unit)
        same = shown == ("°F" if own == "degF" else "°C")
        value = f"{read.micro / 1e6:g}" + ("" if same else f" {shown}")
        label = read.spot or "Thermometer showed"
        fields.append(MendField(f"value:{read.spot}", label, value, "number", needed=True, unit=shown if same else ""))
    return [*fields, MendField("with", _LABELS["with"], entry.reads[0].thermometer)]


def _local(settings: Settings, text: str) -> str:
    try:
        return for_field(parse_time(text), ZoneInfo(settings.site.time_zone))
    except ValueError:
        return ""


def _instant(settings: Settings, text: str, name: str) -> str:
    at = from_field(text, ZoneInfo(settings.site.time_zone))
    if at is None:
        raise FieldError("That is no time.", name)
    return show_time(at)
