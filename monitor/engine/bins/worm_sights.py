"""The alarm of worms that somebody saw suffer: on the lid, or dead.

1. The newest look into the bin that says something of the worms decides, by the time when it was done; a look before the bin
   was last emptied says nothing of the bed that lies there now.
2. Nothing but a look that finds them well, or an emptying, ends it: that no probe finds fault with a bed does not make it good.
3. It counts from the first of the looks that found them so, one after another. Nobody has looked since the last of them, so it
   holds now, also where it was written down late. What was seen more than a fortnight before begins no alarm: it comes from an
   old log, and nobody knows how they are.
"""

from monitor.engine.context.core import Core
from monitor.engine.context.places import Places
from monitor.model.alarm_kinds import Alarm, alarm_key
from monitor.model.alarm_values import AlarmValues
from monitor.model.sightings import DEAD, UNWELL
from monitor.model.times import DAY_MS
from monitor.model.work import Work
from monitor.model.work_kinds import Material, declared

SPEAKS_MS = 14 * DAY_MS
"""How long ago a look that begins the alarm may have been, when it is logged: an older one says nothing of today. Ours."""


def follow_worms(core: Core, place: str) -> None:
    """Begin or end the alarm of a bin by the looks that people logged.

    Args:
        core: The engine's ports.
        place: The bin.
    """
    ill: list[Work] = []
    for work in _in_order(core, place):
        if declared(work.kind).material is Material.ENDS or (work.worms and work.worms not in UNWELL):
            ill = []
        elif work.worms:
            ill.append(work)
    if not ill:
        core.ends(place, Alarm.WORMS_UNWELL)
        return
    known = core.state.alarms.get(alarm_key(place, Alarm.WORMS_UNWELL))
    if core.at - ill[-1].time > SPEAKS_MS and (known is None or not known.on):
        return
    stage, values = int(ill[-1].worms == DEAD), AlarmValues(variant=ill[-1].worms)
    core.begins(place, Alarm.WORMS_UNWELL, since=ill[0].time, last=core.at, values=values, stage=stage)


def _in_order(core: Places, place: str) -> list[Work]:
    works = [one for one in core.state.bed_works if one.work.place == place]
    return [one.work for one in sorted(works, key=lambda one: (one.work.time, one.at, one.row))]
