"""An event that a form wishes for, and the fields that the forms have in common: when, the remark, the entry's id."""

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
    """An event to put before the writer, and what it says to people."""

    kind: EventKind
    payload: dict[str, Any]
    words: str


def entry_id_of(form: Mapping[str, str]) -> dict[str, str]:
    """Return the id under which a browser sends an entry, however often it does."""
    found = form.get("entry", "")
    return {ENTRY_ID: found} if _ENTRY_ID.fullmatch(found) else {}


def when_of(form: Mapping[str, str], settings: Settings, now: int) -> int:
    """Return when it was done (UTC ms): what its form says, or `now`.

    Raises:
        FieldError: It is no time, or still to come.
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
    # Line ends stay; what else steers a terminal goes. The page escapes what it shows, whatever stands here.
    text = form.get("note", "").replace("\r\n", "\n").strip()[:_NOTE_LENGTH]
    return "".join(sign for sign in text if sign == "\n" or sign.isprintable())
