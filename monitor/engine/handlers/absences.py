"""Absences of contacts that people log: whoever is away is off duty, so messages go to others."""

from dataclasses import asdict

from monitor.engine.batches.missed_rounds import follow_chains
from monitor.engine.context.core import Core
from monitor.engine.context.state import Logged
from monitor.engine.output.alarm_notices import arm_desk
from monitor.model.absence_entry import absence_of
from monitor.notices import Absence


def take_absence(core: Core, logged: Logged) -> None:
    """Take an absence; one whose contact or times mean nothing changes nothing."""
    found = absence_of(asdict(logged.work))
    if found is not None:
        contact, start, end = found
        core.desk.absent(core.at, Absence(contact=contact, start=start, end=end, at=logged.at, row=logged.row))
        _follow(core)


def correct_absence(core: Core, at: int, row: int, right: Logged | None) -> bool:
    """Take back or replace an absence, and return whether there is one of that entry.

    Args:
        core: The engine's ports.
        at: The event of the entry, UTC ms.
        row: Its row within the event.
        right: The entry as it should be; None: it is taken back.
    """
    if all((one.at, one.row) != (at, row) for one in core.state.desk.absences):
        return False
    core.desk.present(at, row)
    if right is not None:
        take_absence(core, right)
    _follow(core)
    return True


def _follow(core: Core) -> None:
    # A message about a missed round comes while somebody on duty is up.
    follow_chains(core, anew=True)
    arm_desk(core)
