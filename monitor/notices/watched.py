"""The watch of each place: by probes, by hand, by nobody. No summary says that all is well while one place is unknown."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum

from monitor.notices.names import clean, join_names


class By(StrEnum):
    """The watcher of a place."""

    PROBES = "probes"
    HAND = "hand"
    NOBODY = "nobody"
    EMPTY = "empty"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceWatch:
    """A place's watch.

    Attributes:
        place: Pile or bin.
        by: Who watches it; EMPTY if nothing lies there.
        known: Whether the state of the place is known now.
        last: When the newest reading that counts was taken, UTC ms, or None.
        who: Who read it by hand, "" if nobody said.
        muted: (first sentence, muted until in UTC ms) of each alarm that is on and muted by work or a turning.
        rounds: (last, due, when the chain breaks) in UTC ms where rounds by hand prove a running rule; else None.
        why: Why its state is unknown: `silent`, `moisture silent`, `outside`, `never heard`, `uncounted`, `unread`, `not empty`
            (empty by the log, but something in it reads warm), or "".
    """

    place: str
    by: By
    known: bool
    last: int | None = None
    who: str = ""
    why: str = ""
    muted: tuple[tuple[str, int], ...] = ()
    rounds: tuple[int, int, int] | None = None


Watched = Callable[[], tuple[PlaceWatch, ...]]
"""Returns the watch of every pile and bin, in the order of the settings."""

Say = Callable[[int], str]
"""Returns an instant (UTC ms) in words."""


def all_known(watches: Iterable[PlaceWatch]) -> bool:
    """Return whether the state of every place is known."""
    return all(one.known for one in watches)


def counted(watches: Iterable[PlaceWatch], name: Callable[[str], str], say: Say) -> str:
    """Return the places counted by who watches them: `2 places watched by probes, 1 read by hand (Bay 3: Ann, 09:10)`.

    Args:
        watches: The places' watches.
        name: Returns what people call a place.
        say: Puts an instant into words.
    """
    groups: dict[By, list[PlaceWatch]] = {}
    for one in watches:
        groups.setdefault(one.by, []).append(one)
    parts = []
    if probes := groups.get(By.PROBES):
        parts.append(f"{len(probes)} watched by probes")
    if hand := groups.get(By.HAND):
        parts.append(f"{len(hand)} read by hand ({'; '.join(read_words(one, name(one.place), say) for one in hand)})")
    if nobody := groups.get(By.NOBODY):
        parts.append(f"{len(nobody)} watched by nobody ({join_names([name(one.place) for one in nobody])})")
    if empty := groups.get(By.EMPTY):
        parts.append(f"{len(empty)} empty")
    if not parts:
        return "no place is watched"
    first, *rest = parts
    number = first.split(" ", 1)[0]
    return ", ".join([f"{number} {'place' if number == '1' else 'places'} {first.split(' ', 1)[1]}", *rest])


def read_words(one: PlaceWatch, name: str, say: Say) -> str:
    """Return who read a place by hand, and when: `Bay 3: Ann, 09:10`.

    Args:
        one: The place's watch.
        name: What people call the place.
        say: Puts an instant into words.
    """
    who = f"{clean(one.who)}, " if one.who else ""
    return f"{name}: {who}{say(one.last)}" if one.last is not None else name


def next_round_words(rounds: tuple[int, int, int], now: int, say: Say) -> str:
    """Return the state of the rounds that prove a heap's rule: `next round due by tomorrow 13:00`, missed, or broken.

    Args:
        rounds: (last, due, when the chain breaks), UTC ms.
        now: When the words are read, UTC ms.
        say: Puts an instant into words.
    """
    last, due, breaks = rounds
    if now >= breaks:
        return f"the chain of rounds is broken since {say(last)}: read it by hand now"
    if now >= due:
        return f"a round is missed, due by {say(due)}: read it by hand before {say(breaks)}"
    return f"next round due by {say(due)}"


def unknown_words(one: PlaceWatch, say: Say) -> str:
    """Return why the state of a place is unknown."""
    since = f" since {say(one.last)}" if one.last is not None else ""
    return {
        "silent": f"its probes have been silent{since}" if since else "its probes are silent",
        "moisture silent": f"its moisture probes have been silent{since}"
        if since
        else "its moisture probes are silent",
        "outside": f"its probes have been outside{since}" if since else "its probes lie outside",
        "never heard": "its probes were never heard",
        "uncounted": "nothing that its probes sent counts yet",
        "unread": f"not read{since}",
        "not empty": "empty by the log, but something in it reads warm",
    }.get(one.why, "no probe, and nobody has read it")
