"""The script of the demo's yard: building of each batch, the work log, the weather's events, the probes' faults.

The weekend runs from Friday, 17 July 2026, 16:00 to Monday, 20 July, 08:00 in New York (daylight saving, UTC-4);
nobody is in the yard until a notice brings somebody on Sunday evening. The history before it begins on 9 May.
"""

from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time, show_time
from monitor.model.work import Work, WorkKind
from monitor.simulate.layout import SPOTS
from monitor.simulate.probe_errors import Fault, FaultKind
from monitor.simulate.weather import Spell


def local(text: str) -> int:
    """Return a local summer time of 2026 such as `07-17 16:00` as UTC ms (daylight saving: UTC-4)."""
    day, clock = text.split()
    return parse_time(f"2026-{day}T{clock}:00-04:00")


HISTORY_START = local("05-09 10:00")
WEEKEND_START = local("07-17 16:00")
WEEKEND_END = local("07-20 08:00")

BUILT = {"p1": local("07-15 18:00"), "p2": local("07-04 10:00"), "p3": HISTORY_START}


def built_times() -> dict[str, str]:
    """Return the building time of each pile's batch, as the configuration writes it."""
    return {pile: show_time(time).replace(".000Z", "Z") for pile, time in BUILT.items()}


SPELLS = (
    # A dull Saturday, then the hot, still Sunday that the worms will not like.
    Spell(start=local("07-16 00:00"), end=local("07-19 02:00"), rise_k=-2.5, cloud=0.85, calm=True),
    Spell(start=local("07-18 20:00"), end=local("07-20 16:00"), rise_k=8.0, cloud=0.05, calm=True),
)

_TURNED = {
    "p3": ("05-16 10:00", "05-19 17:30", "05-22 18:00", "05-25 09:30", "05-28 18:00", "06-06 10:00"),
    "p2": ("07-09 18:00", "07-12 09:30", "07-16 18:00"),
}
_PILE_WATER_L = 60
_BACK_IN_MS = 40 * MINUTE_MS
"""Time from a turning until its probes are back in the pile."""
_FED_KG = {"b1": 0.8, "b2": 1.2, "b3": 1.2}


def _work(place: str, when: str, kind: WorkKind, amount: str = "", measure: str = "", note: str = "") -> Work:
    return Work(time=local(when), place=place, kind=kind, amount=amount, measure=measure, by="Yard keeper", note=note)


def _pile_works() -> list[Work]:
    works = [
        Work(
            time=time,
            place=pile,
            kind=WorkKind.BUILT,
            amount="4.5",
            measure="m3",
            by="Yard keeper",
            note="stable litter 3, leaves 2, coffee grounds 1, by volume",
        )
        for pile, time in BUILT.items()
    ]
    for pile, times in _TURNED.items():
        for when in times:
            works.append(_work(pile, when, WorkKind.TURNED, note="outside in"))
            works.append(_work(pile, when, WorkKind.WATERED, str(_PILE_WATER_L), "L", "while turning"))
            # The keeper logs each probe as it goes back in; the engine would find the warm ones by itself.
            back = local(when) + _BACK_IN_MS
            works += [
                Work(time=back, place=pile, kind=WorkKind.PROBE_IN, probe=spot.name, by="Yard keeper")
                for spot in SPOTS
                if spot.place == pile
            ]
    return works


def _bin_works() -> list[Work]:
    works: list[Work] = []
    time = HISTORY_START + 7 * HOUR_MS
    while time < local("07-15 00:00"):
        works += [
            Work(time=time, place=bed, kind=WorkKind.FED, amount=str(kg), measure="kg", by="Yard keeper")
            for bed, kg in _FED_KG.items()
        ]
        # The keeper waters the sunny bin each time, the shed bin half as much, and the shade bin by habit.
        works += [
            Work(time=time, place=bed, kind=WorkKind.WATERED, amount=amount, measure="L", by="Yard keeper")
            for bed, amount in (("b1", "1"), ("b2", "0.3"), ("b3", "0.4"))
        ]
        time += 3 * DAY_MS + 12 * HOUR_MS
    works += [
        _work("b3", "07-16 18:30", WorkKind.WATERED, "12", "L", "the hose was left running"),
        _work("b1", "07-17 15:30", WorkKind.FED, "1.6", "kg", "melon rinds and coffee grounds"),
        _work("b2", "07-17 15:35", WorkKind.FED, "1.2", "kg"),
        _work("b1", "07-19 19:10", WorkKind.WATERED, "4", "L", "came by after the message"),
        _work("b1", "07-19 19:15", WorkKind.COVERED, note="lid off, wet sacking over top and wall side"),
    ]
    return works


WORKS: tuple[Work, ...] = tuple(
    sorted([*_pile_works(), *_bin_works()], key=lambda work: (work.time, work.place, work.probe))
)
"""The whole work log, history and weekend, in the order of time."""

ANSWERS: tuple[tuple[int, str, str, str], ...] = (
    (local("07-19 19:05"), "b1/worms-in-danger", "seen", "Yard keeper"),
    (local("07-20 07:15"), "b1/overheating", "seen", "Yard keeper"),
)
"""What people answer to alarms: when (UTC ms), the alarm's key, the answer, by whom."""

SILENT_PROBE = "b2-t"
SILENT_FROM = local("07-18 13:40")


def faults() -> dict[str, tuple[Fault, ...]]:
    """Return the faults of each probe: those of the weekend, and lying outside during each turning."""
    far = WEEKEND_END + 3_650 * DAY_MS
    found: dict[str, list[Fault]] = {spot.name: [] for spot in SPOTS}
    for work in WORKS:
        if work.kind is WorkKind.TURNED:
            span = (work.time - 5 * MINUTE_MS, work.time + _BACK_IN_MS)
            for spot in SPOTS:
                if spot.place == work.place:
                    found[spot.name].append(Fault(kind=FaultKind.OUT, start=span[0], end=span[1]))
    found[SILENT_PROBE].append(Fault(kind=FaultKind.SILENT, start=SILENT_FROM, end=far))
    # Small troubles that the filters should deal with alone.
    once = 10 * MINUTE_MS
    for probe, kind, when, amount in (
        ("p2-c", FaultKind.NO_ANSWER, "07-17 22:40", 0.0),
        ("p1-s", FaultKind.SPIKE, "07-18 03:20", 18.0),
        ("b3-t", FaultKind.POWER_UP, "07-18 11:30", 0.0),
        ("p3-b", FaultKind.NO_ANSWER, "07-19 02:10", 0.0),
    ):
        found[probe].append(Fault(kind=kind, start=local(when), end=local(when) + once, amount=amount))
    for probe in ("b3-t", "b3-m"):
        cut = Fault(kind=FaultKind.SILENT, start=local("07-18 11:00"), end=local("07-18 11:30"))
        found[probe].append(cut)
    return {name: tuple(each) for name, each in found.items()}
