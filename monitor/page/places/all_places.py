"""Every pile and bin, and in which order the page shows them: the worst first.

Worst is what a person must act on: an alarm by its priority, a fire first, an unseen one before a seen one of the same, then
what was put off, then what is not as it should be (a bin outside comfort, a heap whose probes are silent), then the rest by
name, in natural order (*Bay 2* before *Bay 10*).
"""

import re

from monitor.engine import Engine
from monitor.notices import PlaceWatch
from monitor.page.places.bin_view import bin_view
from monitor.page.places.needs import Need
from monitor.page.places.pile_view import pile_view
from monitor.page.places.place_now import PlaceNow
from monitor.page.places.place_view import PlaceView

_DIGITS = re.compile(r"(\d+)")


def natural(name: str) -> list[tuple[int, int, str]]:
    """Return a key by which names sort as people count: *Bay 2* before *Bay 10*."""
    return [
        (0, int(part), "") if part.isdecimal() else (1, 0, part.casefold()) for part in _DIGITS.split(name[:80]) if part
    ]


def places(engine: Engine, needs: list[Need], now: int, *, names: bool = True) -> list[PlaceView]:
    """Return every pile and bin, the worst first; without `names` of people."""
    views = [_view(engine, watch, needs, now, names=names) for watch in engine.watched(now)]
    return sorted(views, key=_rank)


def place_view(engine: Engine, place: str, needs: list[Need], now: int, *, names: bool = True) -> PlaceView:
    """Return one place; `needs` are those of the whole yard. Without `names` nobody is named.

    Raises:
        KeyError: There is no such place.
    """
    watch = next((watch for watch in engine.watched(now) if watch.place == place), None)
    if watch is None:
        raise KeyError(place)
    return _view(engine, watch, needs, now, names=names)


def _view(engine: Engine, watch: PlaceWatch, needs: list[Need], now: int, *, names: bool) -> PlaceView:
    own = tuple(need for need in needs if need.place == watch.place)
    here = PlaceNow(engine=engine, watch=watch, needs=own, now=now, names=names)
    return bin_view(here) if here.is_bin else pile_view(here)


def _rank(view: PlaceView) -> tuple[int, int, bool, bool, int, list[tuple[int, int, str]]]:
    worst = view.worst
    if worst is None:
        settled = 1 if view.put_off is not None else 2 if view.off else 3 if view.state != "empty" else 4
        return settled, 0, False, False, 0, natural(view.name)
    return 0, -worst.priority, not worst.key.endswith("/fire"), not worst.open, worst.since, natural(view.name)
