"""Things that follow from a heap's heat: to keep off it, to turn it, to test it and certify it, and what to expect of it.

A heap that is ready for worms is turned and wetted once and must stay cool for 72 h, then a handful of worms is tried for 48 h;
after both its bay can be emptied. Common practice, no published source.
"""

from dataclasses import dataclass

from monitor.diary.due import Due, What
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.notices import say_span

COOL_MS, TRIED_MS = 72 * HOUR_MS, 48 * HOUR_MS
PAPER_MS = 28 * DAY_MS
"""How long a certificate can wait: while the heap still lies there, what it says can be looked at. Ours."""


def keep_off(place: str, alarm: str, since: int) -> Due:
    """Return the warning that stands in place of all work at a heap.

    Args:
        place: The pile.
        alarm: People's name for the alarm.
        since: When it began, UTC ms.
    """
    why = f"{alarm}: leave it shut and do no work there; the alarm says what to do"
    return Due(due_ms=since, place=place, what=What.KEEP_OFF, why=why, of=f"{alarm}/{since}")


def hot_due(place: str, since: int, shown: str) -> Due:
    """Return the turning of a heap that is hot: within a day, wetted as well.

    Args:
        place: The pile.
        since: Since when it is hot, UTC ms.
        shown: The limit that it is above, for people.
    """
    why = f"it has been at {shown} or above: turn and wet it within a day"
    return Due(due_ms=since, place=place, what=What.TURN, why=why, of=f"hot/{since}", latest_ms=since + DAY_MS)


def cooled_due(place: str, since: int) -> Due:
    """Return the turning of a heap that has gone cold with its rule unmet.

    Args:
        place: The pile.
        since: Since when it counts as cold, UTC ms.
    """
    why = "it has cooled and its rule is not met: every day without heat is a day more"
    return Due(due_ms=since, place=place, what=What.TURN, why=why, of=f"cold/{since}")


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleAhead:
    """A rule that is running.

    Attributes:
        place, batch: Where the batch lies, and its id.
        known_ms: Up to when its record is known, UTC ms.
        days: Days left, None if the rule counts none.
        look_again: When the rule's state can change next if nothing but time passes, UTC ms; None: it cannot.
        turning_ms: When the last turning that it wants can have been done, UTC ms; None: it wants none.
        done: How far it is, for people: `12 of 15 days`.
    """

    place: str
    batch: str
    known_ms: int
    days: int | None
    look_again: int | None
    turning_ms: int | None
    done: str


def rule_expected(ahead: RuleAhead) -> Due | None:
    """Return when a rule can be met at the earliest, or None if nobody can say."""
    if ahead.days is not None and ahead.days > 1:
        expected: int | None = ahead.known_ms + ahead.days * DAY_MS
    else:
        expected = ahead.look_again
    if expected is None and ahead.turning_ms is None:
        return None
    at = max(expected or 0, ahead.turning_ms or 0)
    done = f" ({ahead.done} done)" if ahead.done else ""
    why = f"its rule is met then if all goes well{done}"
    return Due(due_ms=at, place=ahead.place, what=What.EXPECT, why=why, of=f"met/{ahead.batch}")


def ready_expected(place: str, batch: str, at: int, age_ms: int | None) -> Due:
    """Return when a cooling heap can be ready for worms at the earliest.

    Args:
        place: The pile.
        batch: Its batch.
        at: The instant, UTC ms.
        age_ms: The least age of a ready batch, if that alone keeps it; None: it is cool enough, and must stay so.
    """
    why = "ready for worms then if it stays cool"
    if age_ms is not None:
        why = f"not ready for worms before it is {say_span(age_ms)} old"
    return Due(due_ms=at, place=place, what=What.EXPECT, why=why, of=f"ready/{batch}")


def after_ready(place: str, batch: str, since: int, *, tried: bool) -> list[Due]:
    """Return the test and the emptying of a heap that is ready for worms.

    Args:
        place: The pile.
        batch: Its batch.
        since: Since when it is ready, UTC ms.
        tried: Whether a sample was taken since.
    """
    test = Due(
        due_ms=since,
        place=place,
        what=What.TEST,
        why="it is ready for worms: turn and wet it once; if it stays cool for 72 h, try a handful of worms for 48 h",
        of=batch,
        latest_ms=since + COOL_MS,
    )
    empty = Due(
        due_ms=since + COOL_MS + TRIED_MS,
        place=place,
        what=What.EMPTY,
        why="its material is ready, and the bay is free for the next heap",
        of=batch,
    )
    return [empty] if tried else [test, empty]


def certify_due(place: str, batch: str, met: int, said: str) -> Due:
    """Return the certificate of a batch that has met its rule, while none was made on the page.

    Args:
        place: The pile.
        batch: The batch.
        met: When its rule was met, UTC ms.
        said: That instant, for people.
    """
    why = f"its rule was met {said}, and no certificate was made on the page"
    return Due(due_ms=met, place=place, what=What.CERTIFY, why=why, of=batch, latest_ms=met + PAPER_MS)
