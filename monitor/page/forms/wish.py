"""A wish is an event that a form asks for; this module also reads the fields that forms share: time, remark, entry id."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from monitor.model.errors import FieldError
from monitor.model.events import ENTRY_ID, EventKind
from monitor.model.settings import Settings
from monitor.model.times import MINUTE_MS
from monitor.page.places.page_times import from_field

_ENTRY_ID = re.compile(r"[A-Za-z0-9_-]{8,64}")
_NOTE_LENGTH = 2_000
_ALLOWED_AHEAD_MS = 2 * MINUTE_MS


@dataclass(frozen=True, slots=True)
class Wish:
    """An event to put before the writer, with its words for people."""

    kind: EventKind
    payload: dict[str, Any]
    words: str


def entry_id_of(form: Mapping[str, str]) -> dict[str, str]:
    """Return the id under which a browser sends an entry, the same each time, as a part of the payload."""
    found = form.get("entry", "")
    return {ENTRY_ID: found} if _ENTRY_ID.fullmatch(found) else {}


def when_of(form: Mapping[str, str], settings: Settings, now: int) -> int:
    """Return when it was done, UTC ms: the form's time, or `now`.

    Args:
        form: May have `when`, a local time.
        settings: The yard's settings, for the time zone.
        now: The daemon's time, UTC ms.

    Raises:
        FieldError: The text is no time, or lies ahead.
    """
    text = form.get("when", "").strip()
    if not text:
        return now
    at = from_field(text, ZoneInfo(settings.site.time_zone))
    if at is None:
        raise FieldError("That is no time; leave it empty for now.", "when")
    if at > now + _ALLOWED_AHEAD_MS:
        raise FieldError("That lies in the future; only what was done can be written down.", "when")
    return min(at, now)


def note_of(form: Mapping[str, str]) -> str:
    """Return the remark of a form, or ""."""
    # Keep line ends and drop every other control character. The page escapes texts when it shows them.
    text = form.get("note", "").replace("\r\n", "\n").strip()[:_NOTE_LENGTH]
    return "".join(sign for sign in text if sign == "\n" or sign.isprintable())
