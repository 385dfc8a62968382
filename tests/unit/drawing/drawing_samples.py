"""Pictures of every kind with given words in every place that takes words, for the tests of drawing."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from monitor.drawing import (
    Band,
    BandLook,
    BinProbe,
    BinSection,
    Choice,
    ChoiceRole,
    Choices,
    Comfort,
    Course,
    Ink,
    Limit,
    Line,
    LineKind,
    Message,
    MessageLook,
    MixMaterial,
    MixPicture,
    Note,
    NoteKind,
    OverTime,
    PileProbe,
    PileSection,
    PileShape,
    ProbeState,
    Spread,
    Stretch,
    Strip,
    StripRow,
    TreeBox,
    TreeKind,
    Trouble,
    Turning,
    Unit,
    YearBand,
    bin_section,
    choices,
    course_frame,
    course_plot,
    mix_picture,
    over_time,
    pile_section,
    strip,
    tree_picture,
    year_band,
    year_scale,
)
from monitor.model.times import HOUR_MS, parse_time
from monitor.model.units import Quantity

ZONE = ZoneInfo("America/New_York")
START = parse_time("2026-03-01T09:00:00Z")
END = START + 240 * HOUR_MS


def line(name: str, kind: LineKind = LineKind.PROBE, *, level: int = 50_000, max_gap_ms: int | None = None) -> Line:
    times = np.arange(START, END, HOUR_MS)
    return Line(
        name=name, times=times, milli=level + 3000 * (np.arange(len(times)) % 7), kind=kind, max_gap_ms=max_gap_ms
    )


def plot(words: str = "A", **changes: Any) -> OverTime:
    given: dict[str, Any] = {
        "start": START,
        "end": END,
        "zone": ZONE,
        "unit": Unit.DEGF,
        "lines": tuple(line(words, kind) for kind in LineKind),
        "second_unit": True,
        "holds": ((START + 24 * HOUR_MS, START + 48 * HOUR_MS),),
        "hold_words": words,
        "unproven": ((START + 60 * HOUR_MS, START + 80 * HOUR_MS),),
        "unproven_words": words,
        "turnings": (Turning(at=START + 50 * HOUR_MS, label=words), Turning(at=START + 99 * HOUR_MS)),
        "notes": (Note(at=START + HOUR_MS, number=1, words=words), Note(at=END, number=2, kind=NoteKind.NOTICE)),
        "limits": (Limit(milli=55_000, label=words),),
        "comfort": (Comfort(low_milli=15_000, high_milli=26_000, label=words),),
        "now": START + 200 * HOUR_MS,
        "title": words,
    }
    return OverTime(**(given | changes))


def pile(words: str = "A", shape: PileShape = PileShape.WINDROW, **changes: Any) -> PileSection:
    given: dict[str, Any] = {
        "shape": shape,
        "probes": tuple(
            PileProbe(name=words, milli_c=60_000, depth_milli_m=500, state=state, words="" if words == "A" else words)
            for state in ProbeState
        ),
        "unit": Unit.DEGF,
        "air_milli_c": 9000,
        "phase": words,
        "hold_milli_c": 55_000,
        "size": words,
        "title": words,
    }
    return PileSection(**(given | changes))


def bin_(words: str = "A", **changes: Any) -> BinSection:
    given: dict[str, Any] = {
        "unit": Unit.DEGC,
        "condition": words,
        "probes": tuple(
            BinProbe(name=words, quantity=quantity, milli=23_000, state=state)
            for quantity in (Quantity.TEMPERATURE, Quantity.MOISTURE)
            for state in ProbeState
        ),
        "heat_limits": (Limit(milli=29_444, label=words),),
        "damp_limits": (Limit(milli=90_000, label=words),),
        "air_milli_c": 12_000,
        "fed": words,
        "title": words,
    }
    return BinSection(**(given | changes))


def tried(words: str = "A", **changes: Any) -> Choices:
    points = tuple(
        Choice(
            needless_milli=1000 * n,
            warning_ms=None if n == 3 else (n - 2) * HOUR_MS,
            caught=n % 7,
            troubles=6,
            label=words,
            row=words if n in (2, 4) else "",
            role=ChoiceRole.TODAY if n == 5 else ChoiceRole.CHOSEN if n == 4 else ChoiceRole.TRIED,
        )
        for n in range(8)
    )
    return Choices(**({"points": points, "per": words, "title": words} | changes))


def thin_strip(words: str = "A", **changes: Any) -> Strip:
    bands = tuple(
        Band(start=START + n * 40 * HOUR_MS, end=START + (n + 1) * 40 * HOUR_MS, word=words, look=look)
        for n, look in enumerate(BandLook)
    )
    messages = tuple(Message(at=START + n * 50 * HOUR_MS, words=words, look=look) for n, look in enumerate(MessageLook))
    given: dict[str, Any] = {
        "start": START,
        "end": END,
        "zone": ZONE,
        "rows": (StripRow(name=words, bands=bands, messages=messages), StripRow(name=words, bands=bands)),
        "troubles": (
            Trouble(start=START + HOUR_MS, end=START + 30 * HOUR_MS, label=words),
            Trouble(start=END - 30 * HOUR_MS, end=END, label=words, fine=True),
        ),
        "title": words,
    }
    return Strip(**(given | changes))


def _pile_of(shape: PileShape) -> Callable[[str, Ink], str]:
    return lambda words, ink: pile_section(pile(words, shape), ink)


def mixed(words: str = "A", **changes: Any) -> MixPicture:
    given: dict[str, Any] = {
        "moisture": Spread(48, 56, 63),
        "cn": Spread(24, 31, 42),
        "moisture_best": Stretch(50, 60),
        "cn_best": Stretch(25, 35),
        "moisture_must": Stretch(40, 65),
        "cn_must": Stretch(20, 40),
        "materials": (
            MixMaterial(name=words, moisture=72, cn=30),
            MixMaterial(name=words, moisture=38, cn=54),
            MixMaterial(name=words, moisture=8, cn=563, taken=False),
            MixMaterial(name=words, moisture=50, cn=None),
        ),
        "title": words,
    }
    return MixPicture(**(given | changes))


def grown(words: str = "A") -> TreeBox:
    """Return a tree with each kind of box, certain and possible, and one that stands twice."""
    came = TreeBox(TreeKind.CAME_IN, words, words, certain=False)
    heap = TreeBox(TreeKind.HEAP, words, words, certain=False, parts=(came, came))
    bed = TreeBox(TreeKind.BED, words, parts=(heap, TreeBox(TreeKind.HEAP, words, told=True), came))
    harvest = TreeBox(TreeKind.HARVEST, words, words, parts=(bed,))
    return TreeBox(TreeKind.LOT, words, words, parts=(harvest,))


def course(words: str = "Bay 1", **more: Any) -> Course:
    """A heap of forty days: hot from day 3 to 24, silent on day 10, read by hand three times."""
    steps = [
        (day / 8, 55_000 - abs(day // 8 - 14) * 1000, 60_000 - abs(day // 8 - 14) * 900)
        for day in range(1, 320)
        if not 80 <= day < 88
    ]
    rounds = [(1.2, 30_000, 34_000), (9.5, 52_000, 55_000), (30.0, 38_000, 41_000)]
    given: dict[str, Any] = {
        "days": 40.0, "over": True, "steps": steps, "rounds": rounds, "holds": [(3.0, 9.9), (11.0, 24.0)], "hold": 55_000,
        "held": words, "turned": (4.0, 4.1, 12.0), "watered": (4.0,), "added": (6.0,), "title": words,
        "words": f"Hottest: {words}. Turned: twice.",
    }  # fmt: skip
    return Course(**(given | more))


def bin_band(words: str = "Sunny wall bin", **more: Any) -> YearBand:
    """A bin from March to May, without a week in April; too hot on three days, near frost on one."""
    days = [date(2026, 3, 1) + timedelta(days=number) for number in range(92) if not 40 <= number < 47]
    heat = {day: (8_000 + index * 150, 14_000 + index * 170) for index, day in enumerate(days)}
    heat |= {days[0]: (5_000, 9_000), **dict.fromkeys(days[-3:], (20000, 31000))}
    given: dict[str, Any] = {
        "first": date(2026, 1, 1), "last": date(2026, 12, 31), "heat": heat, "comfort": (15_600, 26_700), "hot": 29_400,
        "frost": 6_100, "hot_days": days[-3:], "frost_days": days[:1], "damp": dict.fromkeys(days, (72_000, 78_000)),
        "aim": (70_000, 80_000), "fed": {"2026-03": 0.4, "2026-04": 1.0}, "taken": [(days[20], words)], "title": words,
        "words": f"Hottest: {words}. Fed: twice.",
    }  # fmt: skip
    return YearBand(**(given | more))


def _course_picture(words: str, ink: Ink) -> str:
    one = course(words)
    return course_plot(one, course_frame([one], Unit.DEGF), ink)


def _band_picture(words: str, ink: Ink, width: int) -> str:
    one = bin_band(words)
    return year_band(one, year_scale([one], Unit.DEGF), width, ink)


PICTURES: dict[str, Callable[[str, Ink], str]] = {
    "over_time": lambda words, ink: over_time(plot(words), ink),
    "over_time phone": lambda words, ink: over_time(plot(words, width=360, second_unit=False), ink),
    **{f"pile {shape}": _pile_of(shape) for shape in PileShape},
    "bin": lambda words, ink: bin_section(bin_(words), ink),
    "choices": lambda words, ink: choices(tried(words), ink),
    "mix": lambda words, ink: mix_picture(mixed(words), ink),
    "mix phone": lambda words, ink: mix_picture(mixed(words, width=276), ink),
    "tree": lambda words, ink: tree_picture(grown(words), 640, ink),
    "tree phone": lambda words, ink: tree_picture(grown(words), 276, ink),
    "course": _course_picture,
    "year": lambda words, ink: _band_picture(words, ink, 460),
    "year phone": lambda words, ink: _band_picture(words, ink, 276),
    "strip": lambda words, ink: strip(thin_strip(words), ink),
}
"""Each kind of picture, drawn with the given words wherever words may stand."""
