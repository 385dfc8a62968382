"""The word of the evening before: the daemon has looked at the record, and people are told once an evening.

The event holds all that was found, so that the same events decide the same; it is not worked out again here.
"""

from collections.abc import Mapping
from typing import Any
from zoneinfo import ZoneInfo

from monitor.engine.context.core import Core
from monitor.engine.output.alarm_facts import written
from monitor.engine.output.alarm_notices import arm_desk, emit_notices
from monitor.model.forecast_entry import day_of
from monitor.model.words import Priority
from monitor.notices import FROST_AHEAD, HEAT_AHEAD, Cause, Facts, Foretold, LineKind, instant

_NOON = 12 * 60


def take_evening(core: Core, payload: Mapping[str, Any]) -> None:
    """Take an `evening` event; a second one of the same evening, or of an earlier day, tells nobody."""
    day = str(payload["day"])
    if day <= core.state.evening:
        return
    core.state.evening = day
    heat = payload["what"] == "heat"
    causes = [
        _cause(core, payload, one, HEAT_AHEAD if heat else FROST_AHEAD)
        for one in payload["places"]
        if one["place"] in core.settings.bins and not core.nothing_lies(one["place"])
    ]
    if payload.get("joins"):
        for cause in causes:
            core.desk.line(core.at, cause.place, f"{cause.short}. {cause.act}", LineKind.NOTED)
        arm_desk(core)
        return
    # A frost that is told in the morning has been; heat comes after noon, and may wait through quiet hours.
    emit_notices(core, core.desk.evening(core.at, causes, may_wait=heat))


def _cause(core: Core, payload: Mapping[str, Any], one: Mapping[str, Any], notice: str) -> Cause:
    zone = ZoneInfo(core.settings.site.time_zone)

    def noon(text: str) -> int:
        found = day_of(text)
        return core.at if found is None else instant(found, _NOON, zone)

    facts = Facts(
        place=one["place"],
        value_milli=payload["milli_c"],
        limit_milli=one["limit_milli_c"],
        since=core.at,
        now=core.at,
        foretold=Foretold(
            day=noon(str(payload["day"])),
            days=one["days"],
            last=noon(str(one["last"])),
            as_today=payload.get("whence") == "today",
            by=str(payload.get("by") or ""),
        ),
    )
    message = written(core, notice, facts)
    return Cause(
        key=f"{facts.place}/{notice}",
        place=facts.place,
        alarm=notice,
        priority=Priority.MEDIUM,
        since=core.at,
        text=message.text,
        short=message.short,
        act=message.act,
        one_time=True,
    )
