"""News of links: one that is down is told once, after a while, and its return is told too."""

from collections.abc import Mapping
from typing import Any

from monitor.engine.context.agenda import Deadline, DueKind
from monitor.engine.context.core import Core
from monitor.engine.context.link_state import LinkState
from monitor.engine.context.signals import Signals
from monitor.engine.output.alarm_notices import arm_desk
from monitor.model.alarm_kinds import FAULTS, Alarm
from monitor.model.alarm_values import AlarmValues, Fault
from monitor.model.events import LOOKED
from monitor.model.forecast_entry import day_of
from monitor.model.times import MINUTE_MS
from monitor.notices import looked_words

LINK_DELAY_MS = 5 * MINUTE_MS
"""A link must be down for this long before it is told: a broker that restarts wakes nobody (docs/decisions/05)."""


def take_link(core: Core, payload: Mapping[str, Any]) -> None:
    """Take a `link` event."""
    if LOOKED in payload:
        _note_looked(core, payload[LOOKED])
    if payload["what"] in FAULTS:
        since = int(payload.get("since", core.at))
        _take_fault(core, str(payload["what"]), bool(payload["up"]), str(payload.get("why", "")), min(since, core.at))
        return
    name, up = str(payload["name"]), bool(payload["up"])
    known = core.state.links.get(name)
    if known is not None and known.up == up:
        _renew_reason(core, name, known, str(payload.get("why", "")))
        return
    core.state.links[name] = LinkState(str(payload["what"]), up, core.at, str(payload.get("why", "")))
    core.wait(Deadline("", DueKind.LINK, name), None if up else core.at + LINK_DELAY_MS)
    if up and known is not None and known.told:
        core.ends("", Alarm.LINK, name)


def _note_looked(core: Core, looked: Mapping[str, Any]) -> None:
    first = day_of(str(looked["first"]))
    if first is not None:
        core.desk.line(core.at, "", looked_words(looked["days"], looked["seen"], first, looked["since"]))
        arm_desk(core)


def _renew_reason(core: Signals, name: str, known: LinkState, why: str) -> None:
    """Note a new reason for a link that is down already: a broker that was away and now refuses the password."""
    if known.up or known.why == why:
        return
    known.why = why
    if known.told:
        _tell(core, name, known)


def fault_name(what: str) -> str:
    """Return the name under which a fault stands among the links; no source or channel can have it (ids have no spaces)."""
    return f"the {what}"


def _take_fault(core: Signals, what: str, up: bool, why: str, since: int) -> None:
    """Take in a fault of the watch itself. It is told at once, since its finder has retried already."""
    name = fault_name(what)
    known = core.state.links.get(name)
    if up:
        if known is not None and not known.up:
            core.state.links[name] = LinkState(what, True, core.at)
            core.ends("", what)
        return
    if known is None or known.up:
        known = core.state.links[name] = LinkState(what, False, since, told=True)
    known.why = why
    core.begins("", what, since=known.since, last=core.at, values=AlarmValues(fault=Fault(why=why)))


def serve_link(core: Signals, name: str) -> None:
    """Tell of a link that has been down for long enough."""
    link = core.state.links[name]
    if link.up or link.told:
        return
    link.told = True
    _tell(core, name, link)


def _tell(core: Signals, name: str, link: LinkState) -> None:
    fault = Fault(what=link.what, name=name, why=link.why)
    core.begins("", Alarm.LINK, since=link.since, last=core.at, probe=name, values=AlarmValues(fault=fault))
