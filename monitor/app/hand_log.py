"""Readings taken by hand, as they stand: who read what where, and which were not taken back."""

from monitor.journal import FOREVER, Store
from monitor.model.events import EventKind
from monitor.model.flags import FlagReason
from monitor.model.readings import HandRead, hand_spot


def hand_log(store: Store, place: str, after: int = -FOREVER, most: int = 30) -> list[HandRead]:
    """Return the newest readings of a place taken by hand later than `after` (UTC ms), in order of time and spot.

    Those that were taken back are left out.
    """
    rows = []
    for series, spot in hand_spots(store, place).items():
        gone = {kept.time for kept in store.flags(series, after + 1) if kept.reason is FlagReason.WITHDRAWN}
        rows += [
            (time, spot, at, micro, column.unit)
            for column in store.columns(series, after + 1)
            for time, micro, at in zip(column.time.tolist(), column.micro.tolist(), column.at.tolist(), strict=True)
            if time not in gone
        ]
    found = []
    for time, spot, at, micro, unit in sorted(rows)[-most:]:
        event = next(iter(store.events(at - 1, at)))
        by, note, thermometer = (str(event.payload.get(name, "")) for name in ("by", "note", "with"))
        imported = event.kind is EventKind.IMPORTED
        found.append(HandRead(at, time, micro, unit, by, note, imported, spot, thermometer, event.payload.get("depth")))
    return found


def hand_spots(store: Store, place: str) -> dict[str, str]:
    """Return the series of a place that were ever read by hand, each with its spot."""
    found = {name: hand_spot(name, (place,)) for name in store.book.of_probe}
    return {name: where[1] for name, where in sorted(found.items()) if where is not None}
