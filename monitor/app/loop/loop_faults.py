"""Events for faults of the watch itself, which the engine reports to people: see `FAULTS` of `monitor.model.alarm_kinds`.

Code on the writer's thread raises a fault by `hub.event(*fault(Alarm.BACKUP, "the folder is not there"))` and ends it
by `hub.event(*fault_over(Alarm.BACKUP))`. Repeating either changes only the reason. If not even an event can be stored,
`fault_letter` gives the words, to be handed directly to the channels.
"""

from monitor.engine import Engine, fault_name
from monitor.model.alarm_kinds import Alarm
from monitor.model.alarm_values import Fault
from monitor.model.events import EventKind
from monitor.model.settings import Settings
from monitor.notices import Facts, Message, compose


def fault(what: Alarm, why: str) -> tuple[EventKind, dict[str, object]]:
    """Return the event that begins a fault; `why` is a short reason without a full stop."""
    return EventKind.LINK, {"what": what.value, "name": fault_name(what), "up": False, "why": why}


def fault_over(what: Alarm) -> tuple[EventKind, dict[str, object]]:
    """Return the event that ends a fault."""
    return EventKind.LINK, {"what": what.value, "name": fault_name(what), "up": True, "why": ""}


def stands(machine: object, what: Alarm) -> bool:
    """Return whether the record says that a fault of the watch is on.

    Args:
        machine: The engine; any other machine, as tests use, knows of no faults.
        what: The fault.
    """
    link = machine.state.links.get(fault_name(what)) if isinstance(machine, Engine) else None
    return link is not None and not link.up


def fault_letter(what: Alarm, why: str, settings: Settings, since: int, now: int) -> Message:
    """Return the message about a fault, for a letter that goes out past the record.

    Args:
        what: The fault, one of `FAULTS`.
        why: A short reason without a full stop, or "".
        settings: The settings in force.
        since: When the fault began, UTC ms.
        now: Now, UTC ms.
    """
    facts = Facts(place="", since=since, now=now, fault=Fault(why=why))
    return compose(what, facts, settings)
