"""Work: things that a person did or saw, logged."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from enum import StrEnum
from typing import Any


class WorkKind(StrEnum):
    """The kinds of work that can be logged."""

    BUILT = "built"
    ADDED = "added"
    TURNED = "turned"
    WATERED = "watered"
    COVERED = "covered"
    MOVED = "moved"
    SPLIT = "split"
    MERGED = "merged"
    EMPTIED = "emptied"
    FAN = "fan"
    FED = "fed"
    BEDDED = "bedded"
    HARVESTED = "harvested"
    SCREENED = "screened"
    SAMPLED = "sampled"
    SEEN = "seen"
    INSPECTED = "inspected"
    DELIVERY = "delivery"
    COUNTED = "counted"
    VISITORS = "visitors"
    PEST = "pest"
    COMPLAINT = "complaint"
    INCIDENT = "incident"
    WEATHER = "weather"
    AWAY = "away"
    LOT = "lot made"
    GIVEN = "given out"
    TESTED = "lot tested"
    PROBE_IN = "probe in"
    PROBE_OUT = "probe out"
    NOTE = "note"


@dataclass(frozen=True, kw_only=True)
class Work:
    """One entry of the work log.

    It has no slots: a field that is empty, as most are, then lies in the class alone, and ten years of work are made at a
    fraction of the cost (`work_from`).

    Attributes:
        time: When it was done, UTC ms.
        place: The pile or bin, or `yard` for the whole yard.
        kind: Kind of work.
        entered: When it was entered, UTC ms, or None (the same as `time`).
        to: Destination of a move, split or merge.
        batch: The batch, if it is not simply the one on the place.
        probe: The probe of `probe in` and `probe out`.
        amount: A number with its `measure` (`20`, `L`), as text so that nothing is rounded.
        measure: Unit of the amount, as it was typed.
        unit: The same as the yard understands it (`lb`, `L`, a container's id), or "".
        what: The material used, brought, sampled or screened: a batch, a harvest, a delivery or a material; "" if unknown.
        source: Origin of the material, or "".
        spot: Spot in the place, by the site's own name, or "".
        risk: The risks of a delivery, in the words of `delivery_risks`, separated by commas; "" if nobody said.
        refused: Why a delivery was sent back, or "" if it was taken.
        contact: Id of the contact who is away, or "".
        start, end: When they leave and are back, RFC 3339, or "".
        worms, cocoons, smell, squeeze: The sights of a look into a bin, in the words of `sightings`, or "".
        moisture: Percent of wet mass, 0 to 100, as a plain number (`74`), or "".
        fines, middle, overs: The fractions of what was screened, each as a number and its unit's id (`30 kg`), or "".
        depth: The depth of the bed, or of the layer that was harvested: a number and its unit's id (`20 in`), or "".
        parts: What was thrown together, as `mix_parts` keeps it (`leaves=3 bag; d14=2 barrow`), or "".
        lot: The lot that was made, tested, or given out of, or "".
        receiver: Who got it, or "".
        price: What they paid, as typed, or "".
        test, result: A test of a lot and its result (`passed`, `failed`), or "".
        day: The local date that a forecast is for, such as `2026-07-19`, or "".
        high, low: The air's high and low in a forecast, each with its unit (`97 degF`), or "".
        photo: The name of a photo that goes with the remark, as `photo_names` has it, or "".
        by: Name of the person who did it.
        note: Free words.
    """

    time: int
    place: str
    kind: WorkKind
    entered: int | None = None
    to: str = ""
    batch: str = ""
    probe: str = ""
    amount: str = ""
    measure: str = ""
    unit: str = ""
    what: str = ""
    source: str = ""
    spot: str = ""
    risk: str = ""
    refused: str = ""
    contact: str = ""
    start: str = ""
    end: str = ""
    worms: str = ""
    cocoons: str = ""
    smell: str = ""
    squeeze: str = ""
    moisture: str = ""
    fines: str = ""
    middle: str = ""
    overs: str = ""
    depth: str = ""
    parts: str = ""
    lot: str = ""
    receiver: str = ""
    price: str = ""
    test: str = ""
    result: str = ""
    day: str = ""
    high: str = ""
    low: str = ""
    photo: str = ""
    by: str = ""
    note: str = ""


COLUMNS: tuple[str, ...] = (
    "time", "entered", "place", "to", "batch", "probe", "kind", "amount", "measure", "by", "note", "unit", "source", "what",
    "spot", "worms", "cocoons", "smell", "squeeze", "moisture", "fines", "middle", "overs", "depth", "risk", "refused",
    "contact", "start", "end", "parts", "lot", "receiver", "price", "test", "result",
    "day", "high", "low", "photo",
)  # fmt: skip
"""All fields in the order of a recording's columns; a new field goes to the end, so that older files stay readable."""

_FIELDS = frozenset(one.name for one in fields(Work))


def work_from(payload: Mapping[str, Any], at: int) -> Work:
    """Return the work of a payload. Missing fields are empty; a missing time is `at` (UTC ms).

    Raises:
        ValueError: There is no such kind of work.
    """
    given = {key: value for key, value in payload.items() if value is not None and key in _FIELDS}
    given["kind"] = WorkKind(given["kind"])
    given.setdefault("time", at)
    given.setdefault("place", "")
    work = object.__new__(Work)
    work.__dict__.update(given)
    return work
