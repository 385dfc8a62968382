"""Checks of thermometers: a dial half a year after its last check in ice water, a probe a year after its calibration.

Source: half a year is the yard-work contract, section 4; a year for probes is ours.
"""

from calendar import monthrange
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from monitor.diary.due import Due, What
from monitor.model.settings import YARD
from monitor.notices import instant, local, say_date_time

DIAL_MONTHS, PROBE_MONTHS = 6, 12
NOON = 12 * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A thermometer or a probe.

    Attributes:
        id, name: Its id, and its name for people.
        checked: When it was last checked, UTC ms; None: never, as far as anybody wrote down.
        used: When it was first used as far as the look goes, UTC ms, if it was never checked.
        probe: Whether it is a probe.
        place: Where a probe sits; else `YARD`.
    """

    id: str
    name: str
    checked: int | None
    used: int = 0
    probe: bool = False
    place: str = YARD


def calibrate_due(one: Checked, now: int, zone: ZoneInfo) -> Due:
    """Return when a thermometer or a probe must be checked next; one that never was, since it was first used.

    Args:
        one: The thermometer or probe.
        now: The instant of the look, UTC ms.
        zone: The yard's time zone.
    """
    kind = "probe" if one.probe else "thermometer"
    if one.checked is None:
        why = f"{kind} {one.name}: no check is written down; ice water must read 32 °F (0 °C)"
        return Due(due_ms=one.used, place=one.place, what=What.CALIBRATE, why=why, of=f"{one.id}/never")
    day, months = local(one.checked, zone).date(), PROBE_MONTHS if one.probe else DIAL_MONTHS
    years, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + years, month + 1
    then = day.replace(year=year, month=month, day=min(day.day, monthrange(year, month)[1]))
    said = say_date_time(one.checked, now, zone).rpartition(" ")[0]
    why = f"{kind} {one.name} was last checked {said}, {months} months before; ice water must read 32 °F (0 °C)"
    return Due(
        due_ms=instant(then, NOON, zone),
        place=one.place,
        what=What.CALIBRATE,
        why=why,
        of=f"{one.id}/{day.isoformat()}",
    )
