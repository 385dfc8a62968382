"""Every pile and bin, in the order of the configuration: people learn it by heart, so nothing is ever sorted anew."""

from collections.abc import Sequence

from monitor.engine import Engine
from monitor.notices import PlaceWatch
from monitor.page.places.bin_view import bin_view
from monitor.page.places.needs import Need
from monitor.page.places.pile_view import pile_view
from monitor.page.places.place_now import PlaceNow
from monitor.page.places.place_view import PlaceView


def places(engine: Engine, needs: list[Need], now: int, order: Sequence[str], *, names: bool = True) -> list[PlaceView]:
    """Return every pile and bin.

    Args:
        engine: The engine of the look.
        needs: The needs of the whole yard.
        now: The daemon's time, UTC ms.
        order: The ids of all places in their order.
        names: Whether people may be named.
    """
    watches = {watch.place: watch for watch in engine.watched(now)}
    return [_view(engine, watches[place], needs, now, names=names) for place in order if place in watches]


def place_view(engine: Engine, place: str, needs: list[Need], now: int, *, names: bool = True) -> PlaceView:
    """Return one place.

    Args:
        engine: The engine of the look.
        place: Id of the place.
        needs: The needs of the whole yard.
        now: The daemon's time, UTC ms.
        names: Whether people may be named.

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
