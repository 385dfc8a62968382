"""The next reading by hand: of rounds that prove a rule, and of places that people read or nobody watches."""

from collections.abc import Callable

from monitor.diary.due import Due, What
from monitor.notices import By, PlaceWatch

Say = Callable[[int], str]
"""Returns an instant (UTC ms) in words."""


def read_due(watch: PlaceWatch, held_until: int | None, begun: int | None, now: int, say: Say) -> Due | None:
    """Return when a place must be read by hand next, or None if probes watch it or nothing lies there.

    Args:
        watch: The watch of the place.
        held_until: Until when its newest reading by hand counts, UTC ms; None: it never had one.
        begun: Since when something lies there, UTC ms, as far as the record says; None: nobody knows.
        now: The instant of the look, UTC ms.
        say: Puts an instant into words.

    Returns:
        The reading.
    """
    if watch.rounds is not None:
        last, due, breaks = watch.rounds
        broken = f"their chain is broken since {say(last)}, and only a round begins it anew"
        why = f"rounds by hand prove its rule; {broken if now >= breaks else f'without one their chain breaks {say(breaks)}'}"
        return _reading(watch.place, due, why, last, breaks)
    if watch.by is By.HAND or (watch.by is By.NOBODY and held_until is not None):
        if held_until is None:
            return None
        return _reading(watch.place, held_until, f"its last reading counts until {say(held_until)}", held_until)
    if watch.by is By.NOBODY and begun is not None:
        return _reading(watch.place, begun, "no probe watches it, and nobody has read it", begun)
    return None


def _reading(place: str, due: int, why: str, of: int, latest: int | None = None) -> Due:
    return Due(due_ms=due, place=place, what=What.READ, why=why, of=str(of), latest_ms=latest)
