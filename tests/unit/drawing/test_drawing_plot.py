"""Things stand where they should on a plot: values, stretches, marks, names; and it says so in words."""

import itertools
import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from drawing_samples import END, START, line, plot, thin_strip
from hypothesis import given
from hypothesis import strategies as st

from monitor.drawing import (
    Band,
    Comfort,
    Limit,
    Line,
    LineKind,
    Message,
    Note,
    StripRow,
    Trouble,
    Turning,
    Unit,
    over_time,
    strip,
)
from monitor.drawing.svg_sheet import polyline
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS

SVG = "{http://www.w3.org/2000/svg}"
BARE = {
    "second_unit": False, "holds": (), "unproven": (), "turnings": (), "notes": (), "limits": (), "comfort": (), "now": None
}  # fmt: skip


class Seen:
    """A picture, read back with its own scales."""

    def __init__(self, svg: str):
        self.svg = svg
        self.root = ET.fromstring(svg)
        get = self.root.get
        self.t0, self.t1, self.x0, self.x1 = (float(get(f"data-{key}", "nan")) for key in ("t0", "t1", "x0", "x1"))
        self.v0, self.v1, self.y0, self.y1 = (float(get(f"data-{key}", "nan")) for key in ("v0", "v1", "y0", "y1"))

    def x(self, at: float) -> float:
        return self.x0 + (at - self.t0) / (self.t1 - self.t0) * (self.x1 - self.x0)

    def y(self, shown: float) -> float:
        return self.y0 + (shown - self.v0) / (self.v1 - self.v0) * (self.y1 - self.y0)

    def marks(self, mark: str) -> list[ET.Element]:
        return [element for element in self.root.iter() if element.get("class") == mark]

    def runs(self, name: str) -> list[list[tuple[float, float]]]:
        """The strokes of a line, as a script on the page would read them."""
        path = next(element for element in self.root.iter() if element.get("data-line") == name)
        found = []
        for part in path.get("d", "").split("M")[1:]:
            numbers = [float(text) for text in re.findall(r"-?(?:\d+(?:\.\d+)?|\.\d+)", part)]
            across, down = (list(itertools.accumulate(numbers[k::2])) for k in (0, 1))
            found.append(list(zip(across, down, strict=True)))
        return found

    def texts(self) -> list[str]:
        return [element.text or "" for element in self.root.iter(SVG + "text")]


@given(st.lists(st.tuples(st.floats(-900, 900), st.floats(-900, 900)), min_size=1, max_size=40))
def test_steps_lead_to_the_rounded_places(points):
    text = polyline(points)
    numbers = [float(one) for one in re.findall(r"-?(?:\d+(?:\.\d+)?|\.\d+)", text)]
    across, down = (list(itertools.accumulate(numbers[k::2])) for k in (0, 1))
    assert across == pytest.approx([x for x, _ in points], abs=0.0501)
    assert down == pytest.approx([y for _, y in points], abs=0.0501)
    assert re.fullmatch(r"M[-.\d]+ [-.\d]+(l[-. \d]+)?", text)


def seen(**changes: object) -> Seen:
    return Seen(over_time(plot("A", **(BARE | changes))))


@pytest.mark.parametrize(("unit", "shown"), [(Unit.DEGF, 9 / 5 * 55.5 + 32), (Unit.DEGC, 55.5), (Unit.PERCENT, 55.5)])
def test_a_value_stands_at_its_height_and_time(unit: Unit, shown: float):
    times = np.array([START, START + 10 * HOUR_MS, END])
    picture = seen(unit=unit, lines=(Line(name="A", times=times, milli=np.array([20_000, 55_500, 30_000])),))
    (_, (x, y), _) = picture.runs("A")[0]
    assert x == pytest.approx(picture.x(START + 10 * HOUR_MS), abs=0.1)
    assert y == pytest.approx(picture.y(shown), abs=0.15)
    assert picture.root.get("data-unit") == unit.sign


@pytest.mark.parametrize("unit", Unit)
def test_a_tick_stands_at_its_value(unit: Unit):
    picture = seen(unit=unit, lines=(line("A"),))
    groups = [one for one in picture.marks("d-small") if one.get("text-anchor") == "end"]
    labels = [one for group in groups for one in group.iter() if re.fullmatch(r"-?\d+", one.text or "")]
    assert len(labels) >= 2
    for label in labels:
        assert float(label.get("y", "")) - 4 == pytest.approx(picture.y(float(label.text or "")), abs=0.15)


def test_the_other_unit_stands_on_the_right_at_the_same_heights():
    picture = seen(second_unit=True)
    for label in picture.root.iter(SVG + "text"):
        if float(label.get("x", "")) > picture.x1 and re.fullmatch(r"-?\d+", label.text or ""):
            assert float(label.get("y", "")) - 4 == pytest.approx(
                picture.y(float(label.text or "") * 9 / 5 + 32), abs=0.2
            )
    assert {"°F", "°C"} <= set(picture.texts())
    assert "°C" not in seen().texts()


def test_the_hold_is_shaded_from_its_beginning_to_its_end():
    holds = ((START + 24 * HOUR_MS, START + 48 * HOUR_MS), (START + 100 * HOUR_MS, START + 101 * HOUR_MS))
    picture = seen(holds=holds)
    (wash,) = picture.marks("d-hold")
    drawn = re.findall(r"M([\d.]+) [\d.]+H([\d.]+)V", wash.get("d", ""))
    assert len(drawn) == 2
    for (left, right), (start, end) in zip(drawn, holds, strict=True):
        assert float(left) == pytest.approx(picture.x(start), abs=0.1)
        assert float(right) == pytest.approx(picture.x(end), abs=0.1)
    assert "At temperature" not in picture.svg  # the words given were "A"
    assert "A 2 times, 25 h in all" in picture.svg


def test_stretches_beyond_the_plot_are_cut_off_at_its_edges():
    picture = seen(holds=((START - DAY_MS, START + HOUR_MS), (END + HOUR_MS, END + DAY_MS)))
    (wash,) = picture.marks("d-hold")
    drawn = re.findall(r"M([\d.]+) [\d.]+H([\d.]+)V", wash.get("d", ""))
    assert [tuple(map(float, pair)) for pair in drawn] == [
        (pytest.approx(picture.x0, abs=0.1), pytest.approx(picture.x(START + HOUR_MS), abs=0.1))
    ]


def test_what_is_not_proven_is_hatched_within_its_stretch_only():
    start, end = START + 60 * HOUR_MS, START + 90 * HOUR_MS
    picture = seen(unproven=((start, end),))
    (hatch,) = picture.marks("d-unproven")
    strokes = re.findall(r"([\d.]+) ([\d.]+)", hatch.get("d", ""))
    xs, ys = ([float(pair[k]) for pair in strokes] for k in (0, 1))
    assert len(strokes) > 20
    assert min(xs) == pytest.approx(picture.x(start), abs=4)
    assert max(xs) == pytest.approx(picture.x(end), abs=4)
    assert min(xs) >= picture.x(start) - 0.1
    assert max(xs) <= picture.x(end) + 0.1
    assert min(ys) >= picture.y1 - 0.1
    assert max(ys) <= picture.y0 + 0.1


def test_a_pause_is_drawn_as_a_pause():
    times = np.array([START, START + HOUR_MS, START + 30 * HOUR_MS, START + 31 * HOUR_MS])
    whole = Line(name="A", times=times, milli=np.array([1000, 2000, 3000, 4000]))
    parted = Line(name="A", times=times, milli=whole.milli, max_gap_ms=2 * HOUR_MS)
    assert [len(run) for run in seen(lines=(whole,)).runs("A")] == [4]
    assert [len(run) for run in seen(lines=(parted,)).runs("A")] == [2, 2]
    assert "with 1 pause" in seen(lines=(parted,)).svg


def test_a_line_is_cut_where_it_crosses_the_edges():
    times = np.array([START - HOUR_MS, START + HOUR_MS, END - HOUR_MS, END + 3 * HOUR_MS])
    picture = seen(
        unit=Unit.DEGC, lines=(Line(name="A", times=times, milli=np.array([10_000, 20_000, 40_000, 80_000])),)
    )
    run = picture.runs("A")[0]
    assert run[0] == (pytest.approx(picture.x0, abs=0.1), pytest.approx(picture.y(15), abs=0.15))
    assert run[-1] == (pytest.approx(picture.x1, abs=0.1), pytest.approx(picture.y(50), abs=0.15))
    gapped = Line(name="A", times=times, milli=np.array([1, 2, 3, 4]), max_gap_ms=HOUR_MS)
    assert all(picture.x0 < x < picture.x1 for run in seen(lines=(gapped,)).runs("A") for x, _ in run)


def test_each_limit_says_its_value_on_its_own_line():
    two = (Limit(milli=76_667, label="too hot"), Limit(milli=82_222, label="fire danger"))
    picture = seen(limits=(*two, Limit(milli=30_000, label="far"), Limit(milli=79_000, label="79 °C")))
    assert {"too hot 170", "fire danger 180", "far 86", "79 °C"} <= set(picture.texts())
    named = {one.text: float(one.get("y", "")) for one in picture.root.iter(SVG + "text")}
    for words, shown in (("too hot 170", 170), ("fire danger 180", 180)):
        assert named[words] - 4 == pytest.approx(picture.y(shown), abs=0.15), "on its own line"


def test_what_a_rule_asks_for_is_no_warning():
    picture = seen(limits=(Limit(milli=55_000, label="hold", wanted=True), Limit(milli=71_000, label="hot")))
    assert (len(picture.marks("d-hold-line")), len(picture.marks("d-limit"))) == (1, 1)


def test_limits_and_comfort_stand_at_their_heights():
    picture = seen(
        limits=(Limit(milli=55_000, label="the rule's"),),
        comfort=(Comfort(low_milli=15_556, high_milli=26_667, label="comfort"),),
    )
    (limit,) = picture.marks("d-limit")
    assert float(limit.get("y1", "")) == pytest.approx(picture.y(131), abs=0.15)
    (band,) = picture.marks("d-comfort")
    top, height = float(band.get("y", "")), float(band.get("height", ""))
    assert top == pytest.approx(picture.y(80), abs=0.2)
    assert top + height == pytest.approx(picture.y(60), abs=0.3)
    assert {"the rule's 131", "comfort"} <= set(picture.texts())


def test_turnings_and_now_stand_at_their_times():
    picture = seen(turnings=(Turning(at=START + 50 * HOUR_MS), Turning(at=END + 1)), now=START + 99 * HOUR_MS)
    (turning,) = picture.marks("d-turning")
    assert float(turning.get("x1", "")) == pytest.approx(picture.x(START + 50 * HOUR_MS), abs=0.1)
    (now,) = picture.marks("d-now")
    assert float(now.get("x1", "")) == pytest.approx(picture.x(START + 99 * HOUR_MS), abs=0.1)


def test_notes_keep_their_places_and_those_too_close_share_one_mark():
    at = START + 100 * HOUR_MS
    notes = (Note(at=START + 9 * HOUR_MS, number=1), *(Note(at=at + n * MINUTE_MS, number=2 + n) for n in range(3)))
    picture = seen(notes=notes)
    single, shared = picture.marks("d-note-work")
    middle = float(single.get("x", "")) + float(single.get("width", "")) / 2
    assert middle == pytest.approx(picture.x(START + 9 * HOUR_MS), abs=0.2)
    assert [text.text for text in picture.marks("d-note-text")] == ["a", "b–d"]
    assert float(shared.get("x", "")) < picture.x(at) < float(shared.get("x", "")) + float(shared.get("width", ""))


def test_names_stand_at_the_ends_of_their_lines_and_do_not_overlap():
    lines = tuple(line(f"probe {n}", level=50_000 + 300 * n) for n in range(8))
    picture = seen(lines=lines)
    labels = [text for text in picture.root.iter(SVG + "text") if (text.text or "").startswith("probe")]
    heights = sorted(float(text.get("y", "")) for text in labels)
    assert len(labels) == 8
    assert min(b - a for a, b in itertools.pairwise(heights)) >= 12.9
    assert all(float(text.get("x", "")) > picture.x1 for text in labels)
    early = Line(name="retired", times=np.array([START, START + 24 * HOUR_MS]), milli=np.array([40_000, 60_000]))
    (label,) = [text for text in seen(lines=(early,)).marks("d-text") if text.text == "retired"]
    assert float(label.get("x", "")) < picture.x(START + 40 * HOUR_MS)


def test_lines_differ_in_style_and_the_governing_one_is_on_top():
    picture = seen(
        lines=(line("g", LineKind.GOVERNING), *(line(f"p{n}") for n in range(4)), line("air", LineKind.AMBIENT))
    )
    order = [element.get("data-line") for element in picture.root.iter() if element.get("data-line")]
    assert order[-1] == "g"
    assert order[0] == "air"
    assert len({element.get("class") for element in picture.root.iter() if element.get("data-line")}) == 6


def test_readings_by_hand_are_rings():
    picture = seen(
        lines=(Line(name="dial", times=np.array([START, END]), milli=np.array([1, 2]), kind=LineKind.BY_HAND),)
    )
    assert len(picture.marks("d-hand-ring")) == 2


@pytest.mark.parametrize("lines", [(), (Line(name="A", times=np.zeros(0, int), milli=np.zeros(0, int)),)])
def test_nothing_to_draw_is_said(lines: tuple[Line, ...]):
    picture = seen(lines=lines)
    assert not lines or "A: no readings." in picture.svg


def test_one_reading_and_one_level_can_be_seen():
    alone = Line(name="A", times=np.array([START + HOUR_MS]), milli=np.array([20_000]))
    ((start, end),) = seen(lines=(alone,)).runs("A")
    assert end[0] - start[0] == pytest.approx(1, abs=0.2)


def test_a_plot_that_ends_before_it_starts_is_refused():
    with pytest.raises(ValueError, match="cannot start"):
        plot(end=START)
    with pytest.raises(ValueError, match="too few"):
        plot(width=20)
    with pytest.raises(ValueError, match="cannot start"):
        thin_strip(end=START)


def test_the_words_name_range_newest_value_and_marks():
    picture = seen(
        lines=(line("north"),),
        holds=((START, START + DAY_MS),),
        hold_words="at temperature",
        turnings=(Turning(at=START),),
    )
    assert picture.root.get("aria-label") == (
        "A. From 1 Mar 2026 to 11 Mar 2026. north: 122 °F to 154.4 °F; last 127.4 °F at 11 Mar 2026 04:00. "
        "At temperature once, 24 h in all. 1 turning."
    )


def test_a_strip_has_its_bands_messages_and_troubles_at_their_times():
    row = StripRow(
        name="today's",
        bands=(Band(start=START, end=START + 120 * HOUR_MS, word="comfort"),),
        messages=(Message(at=START + 60 * HOUR_MS),),
    )
    picture = Seen(strip(thin_strip(rows=(row,), troubles=(Trouble(start=START + DAY_MS, end=START + 2 * DAY_MS),))))
    (band,) = picture.marks("d-band-calm")
    left, right = re.findall(r"M([\d.]+) [\d.]+H([\d.]+)V", band.get("d", ""))[0]
    assert (float(left), float(right)) == (picture.x0, pytest.approx(picture.x(START + 120 * HOUR_MS), abs=0.1))
    (message,) = picture.marks("d-message")
    assert float(message.get("d", "")[1:].split()[0]) == pytest.approx(picture.x(START + 60 * HOUR_MS), abs=0.1)
    (bracket,) = picture.marks("d-trouble")
    left, right = re.findall(r"M([\d.]+) .*H([\d.]+)V", bracket.get("d", ""))[0]
    assert float(left) == pytest.approx(picture.x(START + DAY_MS), abs=0.1)
    assert float(right) == pytest.approx(picture.x(START + 2 * DAY_MS), abs=0.1)
    assert "today&#x27;s: 1 message." in picture.svg


def test_a_line_that_swings_too_fast_is_drawn_thinner_and_limits_stay_on_top():
    times = np.arange(START, END, HOUR_MS // 10)
    wild = Line(name="wild", times=times, milli=np.where(np.arange(len(times)) % 2, 20_000, 70_000))
    calm = Line(name="calm", times=times, milli=np.linspace(30_000, 60_000, len(times)).astype(np.int64))
    picture = seen(lines=(wild, calm), limits=(Limit(milli=55_000),))
    marks = [element.get("class") for element in picture.root.iter()]
    assert "d-dense-1" in marks
    assert "d-probe-2" in marks
    assert marks.index("d-limit") > marks.index("d-dense-1")


def test_now_is_named_unless_a_turning_stands_there():
    at = START + 99 * HOUR_MS
    assert "now" in seen(now=at).texts()
    assert "now" not in seen(now=at, turnings=(Turning(at=at),)).texts()
    assert "now" not in seen(now=END + 1).texts()
