"""Returns the journal's readings as rows of a recording: all that are kept, with their arrival and flag.

Rules: a place's readings are those that a probe gave while it was there; a reading by hand belongs to the place in its name.
Imported readings from before the configuration knew the probe belong to its first place. A probe that left the
configuration keeps the quantity that its unit implies. Where an instant has several values, those that came later are rows
too, behind the first, with its flag: whoever judges the file must know of them.
"""

from collections.abc import Callable, Iterator
from heapq import merge

from monitor.app.files.former_places import first_places, probes_at
from monitor.configuration import Configuration
from monitor.journal import Store
from monitor.model.flags import Flag
from monitor.model.readings import Reading, hand_spot, is_hand
from monitor.model.settings import AMBIENT
from monitor.model.times import DAY_MS
from monitor.model.units import UNITS_OF, Quantity
from monitor.recordings import ReadingRow, Told

_Key = tuple[str, int]

_BY_KEY: Callable[[tuple[Reading, int | None]], tuple[int, str]] = lambda one: one[0][:2]  # noqa: E731 (a sort key)


def reading_rows(
    store: Store, configuration: Configuration, place: str | None, first: int, last: int
) -> Iterator[ReadingRow]:  # fmt: skip
    """Yield the rows of a place or of all places, ordered by (time, probe).

    Args:
        store: The journal.
        configuration: Names the quantities of its probes.
        place: Id of the place; None: all.
        first: First instant, UTC ms.
        last: Last instant, inclusive, UTC ms.
    """
    probes = configuration.settings.probes
    names = store.probes()
    there: Callable[[str, int], bool] = lambda probe, time: True  # noqa: ARG005, E731 (every reading counts)
    if place is not None:
        names, there = _of_place(store, configuration, names, place)
    day: int | None = None
    at: dict[_Key, int] = {}
    flags: dict[_Key, Flag] = {}
    firsts = ((reading, None) for reading in store.readings(names, first, last))
    # Of equal keys `merge` gives those of its first argument first.
    for reading, arrived in merge(firsts, store.further_arrived(names, first, last), key=_BY_KEY):
        if not there(reading.probe, reading.time):
            continue
        if reading.time // DAY_MS != day:
            # One day at a time, so that a record of years needs no more memory than one of a week.
            day = reading.time // DAY_MS
            at, flags = _arrived(store, names, day * DAY_MS, (day + 1) * DAY_MS - 1)
        key = (reading.probe, reading.time)
        known = probes.get(reading.probe)
        yield ReadingRow(
            time=reading.time,
            probe=reading.probe,
            quantity=known.quantity if known is not None else _quantity_of(reading.unit),
            micro=reading.micro,
            unit=reading.unit,
            received=at.get(key) if arrived is None else arrived,
            quality=flags.get(key, Flag.PASS),
            told=_told(store, at.get(key) if arrived is None else arrived) if is_hand(reading.probe) else None,
        )


def any_by_hand(store: Store, place: str | None) -> bool:
    """Return whether the journal has readings by hand, of a place or of any."""
    return any(is_hand(name) and (place is None or hand_spot(name, (place,)) is not None) for name in store.probes())


def _told(store: Store, at: int | None) -> Told | None:
    """Return the reader, thermometer and depth of a reading by hand, which stand in its event."""
    event = next(iter(store.events(at - 1, at)), None) if at is not None else None
    if event is None:
        return None
    by, thermometer = (str(event.payload.get(name, "")) for name in ("by", "with"))
    depth = event.payload.get("depth")
    told = Told(by, thermometer, f"{depth} mm" if depth is not None else "")
    return told if any(told) else None


def _of_place(
    store: Store, configuration: Configuration, names: list[str], place: str
) -> tuple[list[str], Callable[[str, int], bool]]:
    """Return the series that ever were at a place, and a function that tells whether one was there at an instant."""
    settings = configuration.settings
    if place not in settings.piles and place not in settings.bins and place != AMBIENT:
        found, were_there = probes_at(store, place)
        hand = {name for name in names if hand_spot(name, (place,)) is not None}
        return [
            name for name in names if name in found | hand
        ], lambda probe, time: probe in hand or were_there(probe, time)
    from monitor.app.yard.yard_view import yard_view  # noqa: PLC0415 (only where a place is asked for)

    with yard_view(configuration) as view:
        carried, probes = view.engine.state.carried, view.engine.state.settings.probes
    by_hand = {name for name in names if hand_spot(name, (place,)) is not None}
    first = first_places(store)

    def there(probe: str, time: int) -> bool:
        if probe in by_hand:
            return True
        for one in reversed(carried):
            if one.probe == probe and one.time <= time:
                known, first_place = first.get(probe, (0, ""))
                return (first_place if one.time == 0 and time < known else one.place) == place
        return probe in probes and probes[probe].place == place

    wanted = {*by_hand, *(one.probe for one in carried if one.place == place)}
    wanted |= {name for name, probe in probes.items() if probe.place == place}
    return [name for name in names if name in wanted], there


def _quantity_of(unit: str) -> Quantity:
    return next((quantity for quantity, units in UNITS_OF.items() if unit in units), Quantity.TEMPERATURE)


def _arrived(store: Store, names: list[str], first: int, last: int) -> tuple[dict[_Key, int], dict[_Key, Flag]]:
    at: dict[_Key, int] = {}
    flags: dict[_Key, Flag] = {}
    for name in names:
        for series in store.columns(name, first, last):
            at.update(zip(((name, int(time)) for time in series.time), series.at.tolist(), strict=True))
        flags.update({(name, kept.time): kept.flag for kept in store.flags(name, first, last)})
    return at, flags
