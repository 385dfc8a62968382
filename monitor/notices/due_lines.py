"""Things that fall due, as lines of a composed text: when, where, what, and who is on duty then.

The diary chooses and words them; here they get their time, their place, and the names of people. A text shows
`MOST` of them and counts the rest, since the diary itself has them all.
"""

from collections.abc import Callable
from dataclasses import dataclass

from monitor.model.times import DAY_MS
from monitor.notices.localtime import WEEKDAYS, local
from monitor.notices.names import clean, join_names
from monitor.notices.roster import Roster

MOST = 8
LEAVING_MS = 4 * DAY_MS
"""The longest time ahead of which *before you go* tells."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DueLine:
    """A thing that falls due: from when on (UTC ms), at which place, and the words for it."""

    at: int
    place: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FallingDue:
    """Things that fall due within a while: the words for that while, such as `before Monday`, and the things in order."""

    within: str = ""
    lines: tuple[DueLine, ...] = ()


SoonDue = Callable[[int], FallingDue]
"""Returns the things that fall due soon, asked at an instant (UTC ms)."""
NOTHING_DUE = FallingDue()
"""Of a text for which nobody looked."""


def nothing_due(at: int) -> FallingDue:
    """Return nothing, for a desk that has no diary."""
    del at
    return NOTHING_DUE


def due_lines(due: FallingDue, roster: Roster, now: int, name: Callable[[str], str], *, who: bool) -> list[str]:
    """Return a heading and a line for each thing, or one sentence if there is none; nothing if nobody looked.

    Args:
        due: The things.
        roster: The contacts and the time zone.
        now: When the text is read, UTC ms.
        name: Returns what people call a place.
        who: Whether each line names who is on duty then.
    """
    if not due.within:
        return []
    if not due.lines:
        return [f"Nothing falls due {due.within}."]
    said = [
        f"- {_when(one.at, now, roster)} {name(one.place)}: {one.words}{_who(one, now, roster) if who else ''}"
        for one in due.lines[:MOST]
    ]
    more = len(due.lines) - MOST
    return [f"Due {due.within}:", *said, *([f"- {more} more in the diary"] if more > 0 else [])]


def _when(at: int, now: int, roster: Roster) -> str:
    if at <= now:
        return "now"
    then, today = local(at, roster.zone), local(now, roster.zone)
    clock = f"{then:%H:%M}"
    return clock if then.date() == today.date() else f"{WEEKDAYS[then.weekday()]} {clock}"


def _who(one: DueLine, now: int, roster: Roster) -> str:
    """Return the caretakers of the place who are on duty when a thing falls due; "" in a yard without contacts."""
    if not roster.settings.contacts:
        return ""
    at = max(one.at, now)
    present = [contact for contact in roster.caretakers(one.place) if roster.on_duty(contact, at)]
    if not present:
        return " (nobody on duty then)"
    first = [contact for contact in roster.first(one.place, at) if contact in present]
    return f" ({join_names([clean(roster.contacts[contact].name) for contact in first])})"
