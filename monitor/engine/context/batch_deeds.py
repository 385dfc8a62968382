"""Deeds: everything besides readings that happens to a batch as its record is walked. Work keeps its declared words."""

from enum import StrEnum

from monitor.model.work import WorkKind


class Deed(StrEnum):
    """Something done to a batch, or that began or ended for it."""

    ENTER = "enter"
    """A probe belongs to the batch from now on."""
    LEAVE = "leave"
    TURNED = WorkKind.TURNED.value
    OPENED = "opened"
    """A fall that belongs to a turning logged later began."""
    ADDED = WorkKind.ADDED.value
    """Raw material came in, so the proof starts over."""
    JOINED = "joined"
    """Material came in that had met the rule."""
    CAME_IN = "came in"
    """A probe was put back in."""
    WENT_OUT = "went out"
    UNREAD = "unread"
    """Readings by hand of one spot and instant disagree: for the rule no line is drawn across it."""
    ROUND = "round"
    ROUNDS_BEGIN = "rounds begin"
    """Rounds by hand prove from now on."""
    ROUNDS_END = "rounds end"


Action = tuple[int, int, Deed, str]
"""(instant in UTC ms, order among equals, deed, probe; for `OPENED`: when its turning was logged)."""
