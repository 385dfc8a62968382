"""Who watches what: places by probes, by hand, by nobody. No summary says that all is well while one place is not known."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum

from monitor.notices.names import clean, join_names


class By(StrEnum):
    """Who watches a place."""

    PROBES = "probes"
    HAND = "hand"
    NOBODY = "nobody"
    EMPTY = "empty"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceWatch:
    """How a place is watched.

    Attributes:
        place: Pile or bin.
        by: Who watches it; EMPTY where there is nothing to watch.
        known: Whether it is known how the place is now.
        last: Newest reading that counts, UTC ms, or None.
        who: Who read it by hand, "" if nobody said.
        muted: (what, until) of its alarms that are on and muted by work or a turning: the first sentence, UTC ms.
        rounds: Where rounds by hand prove a running rule: (last, due, when the chain breaks), UTC ms; else None.
        why: Why it is not known: `silent`, `moisture silent`, `outside`, `never heard`, `uncounted`, `unread`, `not empty`
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
"""Returns every pile and bin in the order of the settings, as things stand."""

Say = Callable[[int], str]
"""Returns an instant (UTC ms) as people say it."""


def all_known(watches: Iterable[PlaceWatch]) -> bool:
    """Tell whether it is known of every place how it is."""
    return all(one.known for one in watches)


def counted(watches: Iterable[PlaceWatch], name: Callable[[str], str], say: Say) -> str:
    """Return how many places are watched by whom: `2 places watched by probes, 1 read by hand (Bay 3: Ann, 09:10)`."""
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
    """Return who read a place by hand, and when: `Bay 3: Ann, 09:10`."""
    who = f"{clean(one.who)}, " if one.who else ""
    return f"{name}: {who}{say(one.last)}" if one.last is not None else name


def next_round_words(rounds: tuple[int, int, int], now: int, say: Say) -> str:
    """Return how the rounds that prove a heap's rule stand: `next round due by tomorrow 13:00`, or that their chain is broken.

    Args:
        rounds: (last, due, when the chain breaks), UTC ms.
        now: UTC ms.
        say: Says an instant.
    """
    last, due, breaks = rounds
    if now >= breaks:
        return f"the chain of rounds is broken since {say(last)}: read it by hand now"
    if now >= due:
        return f"a round is missed, due by {say(due)}: read it by hand before {say(breaks)}"
    return f"next round due by {say(due)}"


def unknown_words(one: PlaceWatch, say: Say) -> str:
    """Return why it is not known how a place is."""
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
