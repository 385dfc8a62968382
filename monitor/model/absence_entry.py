"""An absence as a person tells it: a contact by id or name, and two instants; and as the record keeps it."""

from collections.abc import Mapping
from typing import Any

from monitor.model.errors import FieldError
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS, parse_time, show_time

LONGEST_MS = 366 * DAY_MS
"""The longest absence; whoever is away for longer leaves the configuration."""


def absence_fields(settings: Settings, told: Mapping[str, str]) -> dict[str, str]:
    """Check the fields of an absence, and return them as the record keeps them.

    Args:
        settings: The yard's, for its contacts.
        told: Values by name of the field; a missing one is not checked.

    Raises:
        FieldError: There is no such contact, or no such time, or the end does not follow the beginning within a year.
    """
    fields = {name: told[name] for name in ("contact", "start", "end") if told.get(name)}
    if "contact" in fields:
        fields["contact"] = contact_meant(settings, fields["contact"])
    if wrong := absence_fault(fields):
        raise FieldError(f"{wrong}.", "end")
    return fields | {name: show_time(parse_time(fields[name])) for name in ("start", "end") if name in fields}


def contact_meant(settings: Settings, text: str) -> str:
    """Return the id of the contact with this id or name.

    Raises:
        FieldError: There is none, or there are several.
    """
    if text in settings.contacts:
        return text
    plain = " ".join(text.casefold().split())
    found = [one for one, contact in settings.contacts.items() if plain in (one.casefold(), contact.name.casefold())]
    if len(found) == 1:
        return found[0]
    if found:
        raise FieldError(f'"{text}" can be {" or ".join(found)}; write which.', "contact")
    known = ", ".join(settings.contacts)
    right = f"there are {known}" if known else "the configuration has none, so nobody gets messages"
    raise FieldError(f'There is no contact "{text}"; {right}.', "contact")


def absence_fault(fields: Mapping[str, Any]) -> str:
    """Return the fault of the times of an absence, without a full stop; "" if there is none."""
    instants = []
    for name in ("start", "end"):
        try:
            instants += [parse_time(str(fields[name]))] if fields.get(name) else []
        except ValueError:
            return f'"{str(fields[name])[:40]}" is no time; write 2026-07-18T14:05:00-04:00'
    if len(instants) < 2:
        return ""
    if instants[0] >= instants[1]:
        return "An absence ends after it begins; say from when, and until when"
    if instants[1] - instants[0] > LONGEST_MS:
        return "That is longer than a year; take the contact out of the configuration instead"
    return ""


def absence_of(fields: Mapping[str, Any]) -> tuple[str, int, int] | None:
    """Return (contact, start, end) of an absence in the record, UTC ms; None if it is none."""
    if not all(fields.get(name) for name in ("contact", "start", "end")) or absence_fault(fields):
        return None
    return str(fields["contact"]), parse_time(str(fields["start"])), parse_time(str(fields["end"]))
