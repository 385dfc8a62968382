"""Readings taken by hand, as they stand: who read what, and which were not taken back."""

from monitor.journal import FOREVER, Store
from monitor.model.events import EventKind
from monitor.model.flags import FlagReason
from monitor.model.readings import HandRead, hand_series


def hand_log(store: Store, place: str, after: int = -FOREVER, most: int = 30) -> list[HandRead]:
    """Return the newest readings of a place taken by hand later than `after` (UTC ms), in order of time.

    Those that were taken back are left out.
    """
    probe = hand_series(place)
    gone = {kept.time for kept in store.flags(probe, after + 1) if kept.reason is FlagReason.WITHDRAWN}
    rows = sorted(
        (time, at, micro, column.unit)
        for column in store.columns(probe, after + 1)
        for time, micro, at in zip(column.time.tolist(), column.micro.tolist(), column.at.tolist(), strict=True)
        if time not in gone
    )
    found = []
    for time, at, micro, unit in rows[-most:]:
        event = next(iter(store.events(at - 1, at)))
        by, note = (str(event.payload.get(name, "")) for name in ("by", "note"))
        found.append(HandRead(at, time, micro, unit, by, note, event.kind is EventKind.IMPORTED))
    return found
