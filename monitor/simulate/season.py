"""The year of the demo's yard before its weekend, as entries of the work log: from the loads that came in to the bags.

Made up, and for the demo only. The autumn's heap was read by hand, since the probes came in May; all that was harvested was
harvested before they did, so the simulated beds need not know of it.
Rules: 1. An entry names a harvest by its number, which follows from the order of time; so all entries that others name lie
before `script.HISTORY_START`, from where on the script's own entries stand between them. 2. Nothing lies in the weekend.
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from monitor.model.harvest_names import harvest_id
from monitor.model.work import Work, WorkKind
from monitor.simulate.layout import TIME_ZONE
from monitor.simulate.season_yard import (
    CASTINGS_LOT,
    COMPOST_LOT,
    HEAP_NAME,
    HELD_LOT,
    PARTS,
    ROUND_DAYS,
    SPOTS_BY_HAND,
    WORKED_OUT,
)

KEEPER, DEPUTY = "Yard keeper", "Deputy"
BUILT = "2025-09-06 10:00"
TURNED = ("2025-09-10 17:30", "2025-09-13 10:30", "2025-09-16 17:30", "2025-09-19 17:30", "2025-09-22 17:30")
WATER_L = 120
"""Water while turning."""
FOOD = "food scraps"
STABLE, PARK, CAFE, PLOTS = "the riding stable", "the park", "the cafe", "the plots"
ALLOTMENT, SCHOOL = "allotment 14", "the school garden"
BEDS = {"b1": "120 lb", "b2": "200 lb", "b3": "220 lb"}
"""The bedding that each bin got of the autumn's heap."""


def instant(text: str) -> int:
    """Return a time of the yard, such as `2025-09-06 10:00`, as UTC ms."""
    return int(datetime.fromisoformat(text).replace(tzinfo=ZoneInfo(TIME_ZONE)).timestamp()) * 1000


class _Log:
    """Collects entries in the order of time."""

    def __init__(self) -> None:
        self.works: list[Work] = []
        self.readings = 0
        """How many readings by hand have numbers of their own before the next entry."""

    def add(
        self, when: str, kind: WorkKind, amount: str = "", place: str = "yard", *, by: str = KEEPER, **more: Any
    ) -> int:
        """Add an entry, and return its number in the log.

        Args:
            when: The time of the yard.
            kind: Kind of work.
            amount: A number and the id of its unit, such as `24 barrow`, or "".
            place: The pile or bin, or `yard`.
            by: Who did it.
            more: Further fields of `Work`.
        """
        number, _, unit = amount.partition(" ")
        typed = f"{unit}s" if unit in ("barrow", "bag") else unit
        self.works.append(
            Work(time=instant(when), place=place, kind=kind, amount=number, measure=typed, unit=unit, by=by, **more)
        )
        return len(self.works) + self.readings

    def came(self, when: str, what: str, amount: str, source: str, risk: str = "none", note: str = "") -> None:
        """Add a delivery.

        Args:
            when: The time of the yard.
            what: The material.
            amount: A number and the id of its unit.
            source: Who brought it.
            risk: Its risks, in the words of `delivery_risks`.
            note: Free words.
        """
        self.add(when, WorkKind.DELIVERY, amount, what=what, source=source, risk=risk, note=note)


def _autumn(log: _Log) -> None:
    """Take in, build and turn; the heap becomes bedding and a lot of compost."""
    log.came(
        "2025-09-05 16:00", "stable litter", "24 barrow", STABLE, "herbicide",
        "hay from a field that may have been sprayed: nothing of it goes out without a bean test",
    )  # fmt: skip
    log.came("2025-09-05 17:10", "leaves", "60 bag", PARK, note="last autumn's, kept dry")
    log.add(
        "2025-09-05 17:20", WorkKind.DELIVERY, "12 bag", what="leaves", source="the roadside",
        refused="full of wrappers and bottle tops",
    )  # fmt: skip
    log.came("2025-09-06 08:30", "coffee grounds", "1000 lb", CAFE)
    log.add(BUILT, WorkKind.BUILT, place="p1", parts=PARTS, note=WORKED_OUT)
    for when in TURNED:
        log.add(when, WorkKind.TURNED, place="p1", note="outside in")
        log.add(when, WorkKind.WATERED, f"{WATER_L} L", "p1", note="while turning")
    log.readings = len(ROUND_DAYS) * len(SPOTS_BY_HAND)
    for bed, much in BEDS.items():
        log.add(
            "2025-10-18 10:00",
            WorkKind.BEDDED,
            much,
            bed,
            what=HEAP_NAME,
            note="a handful of worms lived in it for 48 h",
        )
    for bed in BEDS:
        log.add("2025-10-18 10:30", WorkKind.BEDDED, "2 lb", bed, what="worms", source="a breeder")
    log.add("2025-10-18 14:00", WorkKind.LOT, "900 lb", what=HEAP_NAME, lot=COMPOST_LOT)
    log.add(
        "2025-11-08 10:00", WorkKind.TESTED, lot=COMPOST_LOT, test="bean test", result="passed",
        note="six pots, sown on 18 October: flat, green leaves in all of them",
    )  # fmt: skip
    log.add("2025-11-08 11:00", WorkKind.GIVEN, "250 lb", lot=COMPOST_LOT, receiver=ALLOTMENT)
    log.add("2025-11-15 11:00", WorkKind.GIVEN, "400 lb", lot=COMPOST_LOT, receiver=SCHOOL)
    log.add("2025-11-22 10:30", WorkKind.GIVEN, "250 lb", lot=COMPOST_LOT, receiver="allotment 3", price="10 USD")
    log.add("2025-11-22 14:00", WorkKind.EMPTIED, place="p1", note="the rest went under the hedge")


def _winter(log: _Log) -> tuple[str, str]:
    """Feed the bins through the winter, harvest and screen two of them; return the names of the two harvests."""
    for count, day in enumerate(("11-22", "12-13", "01-03", "01-24", "02-14", "03-07", "03-28", "04-11")):
        when = f"{2025 if day > '06' else 2026}-{day}"
        if count % 2 == 0:
            log.came(f"{when} 15:00", FOOD, "30 lb", PLOTS)
        for bed in BEDS:
            log.add(f"{when} 15:30", WorkKind.FED, "5 lb", bed, what=FOOD)
        if day == "01-24":
            log.add(
                f"{when} 16:00",
                WorkKind.PEST,
                note="a rat under the shed; traps set",
            )
        if day in ("12-13", "03-07"):
            for bed in BEDS:
                log.add(
                    f"{when} 15:40", WorkKind.INSPECTED, place=bed, worms="plenty", smell="earthy", squeeze="4",
                    depth="10 in", by=DEPUTY,
                )  # fmt: skip
    shed = harvest_id(log.add("2026-04-18 10:00", WorkKind.HARVESTED, "80 lb", "b2", moisture="74", depth="4 in"))
    log.add("2026-04-18 11:00", WorkKind.BEDDED, "3 bag", "b2", what="leaves", note="soaked")
    log.add(
        "2026-04-25 10:00", WorkKind.SCREENED, "36 lb", "b2", what=shed, moisture="42", fines="22 lb", middle="8 lb",
        overs="5.5 lb",
    )  # fmt: skip
    log.add("2026-04-25 11:30", WorkKind.BEDDED, "5.5 lb", "b2", what=f"{shed}/overs")
    log.add("2026-04-25 11:40", WorkKind.BEDDED, "8 lb", "b1", what=f"{shed}/middle")
    shade = harvest_id(log.add("2026-05-02 10:00", WorkKind.HARVESTED, "60 lb", "b3", moisture="76", depth="3 in"))
    log.came("2026-05-02 12:00", "stable litter", "24 barrow", STABLE)
    log.came("2026-05-02 12:30", "leaves", "90 bag", PARK)
    log.add(
        "2026-05-08 17:00", WorkKind.SCREENED, "25.7 lb", "b3", what=shade, moisture="44", fines="15 lb", middle="6 lb",
        overs="4.5 lb",
    )  # fmt: skip
    log.add("2026-05-08 18:00", WorkKind.BEDDED, "4.5 lb", "b3", what=f"{shade}/overs")
    log.add("2026-05-08 18:05", WorkKind.BEDDED, "6 lb", "b3", what=f"{shade}/middle")
    log.came("2026-05-08 18:20", "coffee grounds", "1000 lb", CAFE)
    return shed, shade


def _spring(log: _Log, shed: str, shade: str) -> None:
    """Screen again, make the lots of castings, test and give out."""
    log.add(
        "2026-05-30 10:00",
        WorkKind.SCREENED,
        "21 lb",
        "b2",
        what=f"{shed}/fines",
        moisture="40",
        fines="20 lb",
        overs="0.9 lb",
    )
    log.add("2026-05-30 11:00", WorkKind.LOT, what=f"{shed}/fines/fines", lot=CASTINGS_LOT)
    log.add("2026-06-12 10:00", WorkKind.VISITORS, note="a school class, 24 children")
    log.add(
        "2026-06-13 10:00",
        WorkKind.SCREENED,
        "14.5 lb",
        "b3",
        what=f"{shade}/fines",
        moisture="41",
        fines="14 lb",
        overs="0.4 lb",
    )
    log.add(
        "2026-06-13 11:00",
        WorkKind.LOT,
        what=f"{shade}/fines/fines",
        lot=HELD_LOT,
        note="beans sown on 4 July",
    )
    for bed in ("b2", "b3"):
        for hour, spot, much in (("11:10", "left", "10 oz"), ("11:20", "middle", "13 oz"), ("11:30", "right", "9 oz")):
            log.add(f"2026-06-13 {hour}", WorkKind.SAMPLED, much, bed, what="worms", spot=spot)
    log.add(
        "2026-06-20 10:00", WorkKind.TESTED, lot=CASTINGS_LOT, test="bean test", result="passed",
        note="three pots with castings and three without, sown on 30 May: no leaf cupped",
    )  # fmt: skip
    log.add("2026-06-21 11:00", WorkKind.GIVEN, "6 lb", lot=CASTINGS_LOT, receiver=ALLOTMENT, price="6 USD")
    log.add("2026-06-27 11:00", WorkKind.GIVEN, "8 lb", lot=CASTINGS_LOT, receiver=SCHOOL)


def _summer(log: _Log) -> None:
    """Take in for the heaps of the summer and for the worms, and look into the beds."""
    for day in ("05-09", "05-23", "06-06", "06-20", "07-04"):
        log.came(f"2026-{day} 09:00", FOOD, "29 lb", PLOTS)
    log.came(
        "2026-07-03 17:00",
        "stable litter",
        "50 barrow",
        STABLE,
        "wormer",
        "wormed on 28 June: hot heaps only",
    )
    log.came("2026-07-03 18:00", "coffee grounds", "1000 lb", CAFE)
    log.add(
        "2026-07-12 12:00",
        WorkKind.COMPLAINT,
        note="a neighbor smelled ammonia as Bay 2 was turned",
    )
    for bed, depth in (("b1", "11 in"), ("b2", "11 in"), ("b3", "12 in")):
        log.add(
            "2026-07-11 10:00", WorkKind.INSPECTED, place=bed, worms="plenty", smell="earthy", depth=depth, by=DEPUTY
        )
    log.came("2026-07-14 17:30", "leaves", "60 bag", PARK)
    log.came("2026-07-15 17:00", "coffee grounds", "1030 lb", CAFE)
    log.came("2026-07-17 15:00", FOOD, "14 lb", PLOTS)


def season() -> tuple[Work, ...]:
    """Return the entries in the order of time."""
    log = _Log()
    _autumn(log)
    shed, shade = _winter(log)
    named = len(log.works)
    _spring(log, shed, shade)
    _summer(log)
    later = sorted(log.works[named:], key=lambda work: work.time)
    return (*log.works[:named], *later)


def whole_log(script: Iterable[Work]) -> list[Work]:
    """Return the log of the whole year: this season and a script's own entries, in the order of time.

    Args:
        script: The entries that the simulated yard lives by.
    """
    return sorted([*season(), *map(_told, script)], key=lambda work: work.time)


def _told(work: Work) -> Work:
    """Return an entry of the script as the log has it: a heap with the parts of its mix, food with its name."""
    if work.kind is WorkKind.BUILT:
        return replace(work, amount="", measure="", parts=PARTS, note=WORKED_OUT)
    if work.kind is WorkKind.FED:
        return replace(work, what=FOOD)
    return work
