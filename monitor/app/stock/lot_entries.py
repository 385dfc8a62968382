"""Makes the entries of what is done with lots: made, tested, given out; each is an entry of the log like any other."""

from collections.abc import Mapping
from typing import Any

from monitor.app.console.time_words import parse_when
from monitor.app.entries.entries import Entry, work_entry
from monitor.configuration import Configuration
from monitor.model.errors import MisuseError
from monitor.model.settings import YARD
from monitor.model.work import WorkKind
from monitor.model.work_kinds import declared


def entry_of_lot(configuration: Configuration, kind: WorkKind, given: Mapping[str, Any], now: int) -> Entry:
    """Return an entry of a lot.

    Args:
        configuration: The configuration.
        kind: The kind of entry.
        given: Its fields by name, beside `at`.
        now: The present, UTC ms.

    Raises:
        MisuseError: A field is wrong, or the time lies ahead.
    """
    settings = configuration.settings
    at = now if given.get("at") is None else parse_when(given["at"], now, settings.site.time_zone, "--at")
    if at > now:
        raise MisuseError("--at lies in the future; only what was done can be written down.")
    fields = {name: value for name, value in given.items() if name not in ("at", "again") and value}
    return work_entry(settings, declared(kind).word, YARD, fields, at)
