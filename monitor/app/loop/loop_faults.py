"""Faults of the watch itself, handed to the engine so that people are told: see `monitor.alarms.FAULTS`.

Anybody on the writer's thread raises one by `hub.event(*fault("backup", "the folder is not there"))` and ends it by
`hub.event(*fault_over("backup"))`. Saying either again changes nothing but the reason. Where not even an event can be
stored, `fault_letter` gives the words, to be handed to the channels directly.
"""

from typing import Literal

from monitor.model.events import EventKind
from monitor.model.settings import Settings
from monitor.notices import Facts, Message, compose

FaultName = Literal["disk", "record", "backup", "page"]


def fault(what: FaultName, why: str) -> tuple[EventKind, dict[str, object]]:
    """Return the event that says a fault is there; `why` is a short reason without a full stop."""
    return EventKind.LINK, {"what": what, "name": f"the {what}", "up": False, "why": why}


def fault_over(what: FaultName) -> tuple[EventKind, dict[str, object]]:
    """Return the event that says a fault is over."""
    return EventKind.LINK, {"what": what, "name": f"the {what}", "up": True, "why": ""}


def fault_letter(what: FaultName, why: str, settings: Settings, since: int, now: int) -> Message:
    """Return what people are told of a fault (times UTC ms), for a letter that goes past the record."""
    facts = Facts(place="", since=since, now=now, extra={"why": why} if why else {})
    return compose(what, facts, settings)
