"""Turns a person's description of a piece of work into the fields of its event: one parser for command line, page and CSV."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from monitor.model.amounts import Dimension, offered, parse_amount
from monitor.model.errors import MisuseError
from monitor.model.settings import Settings
from monitor.model.sightings import sighting
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import SIGHTS, declared

ALWAYS = ("by", "note")
"""Fields that go with every kind of work."""
NO_SIGHT = "What did you see? Say one of worms, cocoons, smell and squeeze, such as worms plenty."
EMPTY_NOTE = "the note is empty; write what you saw"
_AMOUNT = ("amount", "measure")
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


def work_fields(settings: Settings, kind: WorkKind, given: Mapping[str, Any]) -> dict[str, str]:
    """Check the fields of a piece of work.

    Args:
        settings: The yard's, for its units.
        kind: Kind of work.
        given: Values by name of the field; other names and empty values are left out.

    Returns:
        Texts by name of the field, with the unit as the yard understands it.

    Raises:
        MisuseError: A field does not belong to that kind, the amount is none, or its unit is unknown.
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
    fields = {name: _understood(name, told[name]) for name in allowed if name in told}
    if declared(kind).sights and not fields.keys() & set(SIGHTS):
        raise MisuseError(NO_SIGHT)
    return fields | (_amount(settings, kind, told) if "amount" in told else {})


def _understood(name: str, text: str) -> str:
    try:
        return sighting(name, text) if name in SIGHTS else text
    except ValueError as fault:
        raise MisuseError(f"{fault}.") from fault


def _amount(settings: Settings, kind: WorkKind, told: Mapping[str, str]) -> dict[str, str]:
    units = ", ".join(units_offered(settings, kind))
    try:
        amount = parse_amount(told["amount"], told.get("measure", ""), us=is_us(settings))
    except ValueError as fault:
        raise MisuseError(f"{fault}.") from fault
    if amount.dimension is None:
        raise MisuseError(
            f"{amount.number} of what? Write the unit too, such as {amount.number} {units.split(', ')[0]}."
        )
    dimensions = declared(kind).dimensions
    only_time = dimensions == (Dimension.DURATION,)
    if amount.dimension not in dimensions and (only_time or amount.dimension in _NEVER_FOR_ANOTHER):
        raise MisuseError(f'"{kind.value}" is not told in {amount.unit}; {units} go with it.')
    return {"amount": amount.number, "measure": amount.measure, "unit": amount.unit}


def amount_understood(settings: Settings, work: Work) -> Work:
    """Return a row of a work log with its amount as the yard understands it; a number without a unit stays a bare number.

    Raises:
        ValueError: The amount cannot be read, or its unit is unknown or ambiguous; the message says what would be right.
    """
    if not work.amount:
        return work
    amount = parse_amount(work.amount, work.measure or work.unit, us=is_us(settings))
    return replace(work, amount=amount.number, measure=amount.measure, unit=amount.unit)
