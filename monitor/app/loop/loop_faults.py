"""Faults of the watch itself, handed to the engine so that people are told: see `FAULTS` of `monitor.model.alarm_kinds`.

Anybody on the writer's thread raises one by `hub.event(*fault(Alarm.BACKUP, "the folder is not there"))` and ends it by
`hub.event(*fault_over(Alarm.BACKUP))`. Saying either again changes nothing but the reason. Where not even an event can be
stored, `fault_letter` gives the words, to be handed to the channels directly.
"""

from monitor.model.alarm_kinds import Alarm
from monitor.model.events import EventKind
from monitor.model.settings import Settings
from monitor.notices import Facts, Message, compose


def fault(what: Alarm, why: str) -> tuple[EventKind, dict[str, object]]:
    """Return the event that says a fault is there; `why` is a short reason without a full stop."""
    return EventKind.LINK, {"what": what.value, "name": f"the {what}", "up": False, "why": why}


def fault_over(what: Alarm) -> tuple[EventKind, dict[str, object]]:
    """Return the event that says a fault is over."""
    return EventKind.LINK, {"what": what.value, "name": f"the {what}", "up": True, "why": ""}


def fault_letter(what: Alarm, why: str, settings: Settings, since: int, now: int) -> Message:
    """Return what people are told of a fault, one of `FAULTS` (times UTC ms), for a letter that goes past the record."""
    facts = Facts(place="", since=since, now=now, extra={"why": why} if why else {})
    return compose(what, facts, settings)
