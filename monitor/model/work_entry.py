"""Turns a person's description of a piece of work into the fields of its event: one parser for command line, page and CSV."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from monitor.model.absence_entry import absence_fields
from monitor.model.amounts import Amount, Dimension, offered, parse_amount, unit_shown
from monitor.model.delivery_risks import delivery_risks
from monitor.model.errors import FieldError, MisuseError
from monitor.model.forecast_entry import degrees_understood
from monitor.model.mix_parts import parse_parts, parts_text
from monitor.model.moisture_words import moisture_understood
from monitor.model.photo_names import photo_understood
from monitor.model.settings import Settings
from monitor.model.sightings import sighting
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import ABSENCE, FRACTIONS, SIGHTS, declared

ALWAYS = ("by", "note", "photo")
"""Fields that go with every kind of work."""
NO_SIGHT = "What did you see? Say one of worms, cocoons, smell, squeeze and depth, such as worms plenty."
EMPTY_NOTE = "the note is empty; write what you saw"
RESULTS = ("passed", "failed")
"""The results of a test of a lot."""
_AMOUNT = ("amount", "measure")
_OF_FRACTIONS = (Dimension.MASS, Dimension.VOLUME, Dimension.CONTAINERS)
_NEEDED = {
    "what": "{past} of what? Name the material, such as leaves.",
    "amount": "{past} how much? Give the amount with its unit, such as 20 {unit}.",
    "lot": "Of which lot? `heaptender lots` shows them.",
    "receiver": "To whom?",
    "test": "Which test? Name it, such as bean test.",
    "result": "With which result? Write passed or failed.",
    "contact": "Who is away? Name a contact of the configuration.",
    "start": "Away from when? Give the beginning and the end.",
    "end": "Away until when? Give the end too, such as in 3 d.",
}
_NEVER_FOR_ANOTHER = (Dimension.DURATION, Dimension.LENGTH, Dimension.AREA)
"""Kinds of amounts that never stand for another; weight, volume and containers may."""


def fields_that_go_with(kind: WorkKind) -> tuple[str, ...]:
    """Return the fields of `Work` that a person may give with a kind of work, beside time and place."""
    row = declared(kind)
    return (*(_AMOUNT if row.dimensions else ()), *row.fields, *ALWAYS)


def is_us(settings: Settings) -> bool:
    """Return whether a yard is offered US units."""
    return settings.site.temperature_unit == "degF"


def units_offered(settings: Settings, kind: WorkKind) -> tuple[str, ...]:
    """Return the units to offer in a yard for a kind of work, the usual ones first; empty if the work has no amount."""
    return offered(declared(kind).dimensions, us=is_us(settings))


def work_fields(
    settings: Settings,
    kind: WorkKind,
    given: Mapping[str, Any],
    *,
    whole: bool = True,
    last_unit: Callable[[], str] = str,
) -> dict[str, str]:
    """Check the fields of a piece of work.

    Args:
        settings: The yard's, for its units.
        kind: Kind of work.
        given: Values by name of the field; other names and empty values are left out.
        whole: Whether these are all its fields, so that none may be missing.
        last_unit: Returns the unit that was used last for such work, "" for none; asked where a unit is missing.

    Returns:
        Texts by name of the field, with the unit as the yard understands it.

    Raises:
        MisuseError: A field does not belong to that kind or is missing, an amount is none, its unit is unknown, or a figure
            cannot be.
    """
    allowed = fields_that_go_with(kind)
    told = {name: str(value).strip() for name, value in given.items() if value is not None and str(value).strip()}
    wrong = next((name for name in told if name not in allowed and name in Work.__dataclass_fields__), None)
    if wrong in _AMOUNT:
        raise MisuseError(f'"{kind.value}" has no amount; what was done beside it is an entry of its own.')
    if wrong is not None:
        raise MisuseError(f'"{kind.value}" says nothing of "{wrong}"; {", ".join(allowed)} go with it.')
    if "measure" in told and "amount" not in told:
        raise MisuseError(f"How many {told['measure']}? Write the amount too, such as 20 {told['measure']}.")
    fields = {name: _understood(settings, name, told[name]) for name in allowed if name in told}
    if whole and declared(kind).sights and not fields.keys() & {*SIGHTS, "depth"}:
        raise MisuseError(NO_SIGHT)
    if whole:
        check_needs(settings, kind, told)
    if declared(kind).fields == ABSENCE:
        return fields | absence_fields(settings, fields)
    return fields | (_amount(settings, kind, told, last_unit) if "amount" in told else {})


def check_needs(settings: Settings, kind: WorkKind, told: Mapping[str, Any]) -> None:
    """Refuse a piece of work that lacks a field without which it means nothing.

    Args:
        settings: The yard's, for its units.
        kind: Kind of work.
        told: Values by name of the field.

    Raises:
        FieldError: A field is missing; the error names it.
    """
    row = declared(kind)
    for name in row.needs:
        if not str(told.get(name) or "").strip():
            past, unit = f"{row.past[:1].upper()}{row.past[1:]}", next(iter(units_offered(settings, kind)), "")
            raise FieldError(_NEEDED[name].format(past=past, unit=unit), name)


def _understood(settings: Settings, name: str, text: str) -> str:
    readers: dict[str, Callable[[str], str]] = {
        "risk": delivery_risks,
        "moisture": moisture_understood,
        "depth": depth_understood,
        "parts": lambda parts: parts_text(parse_parts(parts, us=is_us(settings))),
        "result": result_understood,
        "photo": photo_understood,
        **dict.fromkeys(("high", "low"), lambda degrees: degrees_understood(degrees, settings.site.temperature_unit)),
        **dict.fromkeys(FRACTIONS, lambda fraction: fraction_understood(settings, name, fraction)),
        **dict.fromkeys(SIGHTS, lambda sight: sighting(name, sight)),
    }
    try:
        return readers[name](text) if name in readers else text
    except ValueError as fault:
        raise FieldError(f"{fault}.", name) from fault


def result_understood(text: str) -> str:
    """Return the result of a test as the record keeps it; "" stays "".

    Raises:
        ValueError: It is neither `passed` nor `failed`.
    """
    plain = text.strip().casefold()
    if plain and plain not in RESULTS:
        raise ValueError(f'"{text.strip()[:20]}" is no result of a test; write {" or ".join(RESULTS)}')
    return plain


def moisture_of(work: Work) -> float | None:
    """Return the moisture of an entry in percent of wet mass; None if it was not measured, or cannot be read."""
    try:
        return float(moisture_understood(work.moisture)) if work.moisture.strip() else None
    except ValueError:
        return None


def fraction_understood(settings: Settings, name: str, text: str) -> str:
    """Return a fraction of what was screened as the record keeps it: its number and its unit's id; "" stays "".

    Args:
        settings: The yard's, for its units.
        name: The field, for the sentence of an error.
        text: As typed; 0 says that nothing was left of it.

    Raises:
        ValueError: It is neither a mass nor a volume, or its unit is unknown.
    """
    if not text.strip():
        return ""
    us = is_us(settings)
    amount, usual = parse_amount(text, us=us, zero=True), "lb" if us else "kg"
    if amount.dimension not in _OF_FRACTIONS:
        right = f"{name} are a mass or a volume, such as {amount.number} {usual}"
        raise ValueError(f'"{text.strip()[:20]}" says nothing of {name}; {right}')
    return f"{amount.number} {amount.unit}"


def depth_understood(text: str) -> str:
    """Return the depth of a bed as the record keeps it: its number and its unit's id; "" stays "".

    Raises:
        ValueError: It is no length, or its unit is unknown.
    """
    if not text.strip():
        return ""
    amount = parse_amount(text)
    if amount.dimension is not Dimension.LENGTH:
        raise ValueError(f'"{text.strip()[:20]}" is no depth; it is a length, such as {amount.number} in')
    return f"{amount.number} {amount.unit}"


def fraction_of(work: Work, name: str) -> Amount | None:
    """Return a fraction of a screening; None if it was not measured, or cannot be read."""
    try:
        return parse_amount(getattr(work, name), zero=True)
    except ValueError:
        return None


def _amount(
    settings: Settings, kind: WorkKind, told: Mapping[str, str], last_unit: Callable[[], str]
) -> dict[str, str]:
    units = ", ".join(units_offered(settings, kind))
    try:
        amount = parse_amount(
            told["amount"], told.get("measure", ""), us=is_us(settings), zero=declared(kind).can_be_nothing
        )
    except ValueError as fault:
        raise MisuseError(f"{fault}.") from fault
    if amount.dimension is None:
        unit = unit_shown(last_unit() or units_offered(settings, kind)[0])
        raise MisuseError(f"{amount.number} of what? Write the unit too, such as {amount.number} {unit}.")
    dimensions = declared(kind).dimensions
    only_time = dimensions == (Dimension.DURATION,)
    if amount.dimension not in dimensions and (only_time or amount.dimension in _NEVER_FOR_ANOTHER):
        raise MisuseError(f'"{kind.value}" is not told in {amount.unit}; {units} go with it.')
    return {"amount": amount.number, "measure": amount.measure, "unit": amount.unit}


def figures_understood(settings: Settings, work: Work) -> Work:
    """Return a row of a work log with its amounts as the yard understands them; a number without a unit stays a bare number.

    Raises:
        ValueError: A figure cannot be read, or its unit is unknown or ambiguous; the message says what would be right.
    """
    fines, middle, overs = (fraction_understood(settings, name, getattr(work, name)) for name in FRACTIONS)
    work = replace(
        work,
        moisture=moisture_understood(work.moisture),
        fines=fines,
        middle=middle,
        overs=overs,
        depth=depth_understood(work.depth),
    )
    unit = settings.site.temperature_unit
    work = replace(work, high=degrees_understood(work.high, unit), low=degrees_understood(work.low, unit))
    parts = parts_text(parse_parts(work.parts, us=is_us(settings))) if work.parts else ""
    work = replace(work, parts=parts, result=result_understood(work.result))
    if not work.amount:
        return work
    nothing = declared(work.kind).can_be_nothing
    amount = parse_amount(work.amount, work.measure or work.unit, us=is_us(settings), zero=nothing)
    return replace(work, amount=amount.number, measure=amount.measure, unit=amount.unit)
