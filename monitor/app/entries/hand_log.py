"""Lists readings taken by hand with their readers, without those that were taken back."""

from monitor.journal import FOREVER, Store
from monitor.model.events import EventKind
from monitor.model.flags import FlagReason
from monitor.model.readings import HandRead, hand_spot


def hand_log(store: Store, place: str, after: int = -FOREVER, most: int = 30) -> list[HandRead]:
    """Return the newest readings of a place taken by hand, ordered by time and spot, without those that were taken back.

    Args:
        store: The journal.
        place: Id of the pile or bin.
        after: Exclusive lower bound of their time, UTC ms.
        most: The most readings returned.
    """
    rows = []
    for series, spot in hand_spots(store, place).items():
        gone = {kept.time for kept in store.flags(series, after + 1) if kept.reason is FlagReason.WITHDRAWN}
        rows += [read for read in series_reads(store, series, spot, after) if read.time not in gone]
    rows.sort(key=lambda read: (read.time, read.spot))
    return [with_words(store, read) for read in rows[-most:]]


def series_reads(store: Store, series: str, spot: str = "", after: int = -FOREVER) -> list[HandRead]:
    """Return all readings of a hand series in order of time, without reader and note; those taken back are included.

    Args:
        store: The journal.
        series: The series' name.
        spot: The series' spot, for the readings returned.
        after: Exclusive lower bound of their time, UTC ms.
    """
    found = (
        HandRead(at, time, micro, column.unit, spot=spot)
        for column in store.columns(series, after + 1)
        for time, micro, at in zip(column.time.tolist(), column.micro.tolist(), column.at.tolist(), strict=True)
    )
    return sorted(found, key=lambda read: (read.time, read.at))


def with_words(store: Store, read: HandRead) -> HandRead:
    """Return a reading with its reader, thermometer, depth and note, which stand in its event."""
    event = next(iter(store.events(read.at - 1, read.at)))
    by, note, thermometer = (str(event.payload.get(name, "")) for name in ("by", "note", "with"))
    imported = event.kind is EventKind.IMPORTED
    return HandRead(
        read.at,
        read.time,
        read.micro,
        read.unit,
        by,
        note,
        imported,
        read.spot,
        thermometer,
        event.payload.get("depth"),
    )


def hand_spots(store: Store, place: str) -> dict[str, str]:
    """Return the hand series of a place that ever had a reading, each with its spot."""
    found = {name: hand_spot(name, (place,)) for name in store.book.of_probe}
    return {name: where[1] for name, where in sorted(found.items()) if where is not None}
