"""Plots say what the record says: to their edges, without what a probe read on the ground, with the limits that can ring."""

import re
from xml.etree import ElementTree as ET

import pytest
from page_yard_for_tests import BUILT, NOW

from monitor.model.events import EventKind
from monitor.model.times import HOUR_MS, MINUTE_MS


def plot(text, number=0):
    """Return a wide plot of a sheet."""
    found = re.findall(r'plot-sheet wide"[^>]*>(<svg.*?</svg>)', text, re.DOTALL)
    return ET.fromstring(found[number].replace('xmlns="http://www.w3.org/2000/svg" ', ""))


def runs(svg, name):
    """Return the runs of a line as lists of (x, y)."""
    (line,) = (one for one in svg.iter() if one.get("data-line") == name)
    ids = {one.get("id"): one.get("d") for one in svg.iter("path")}
    path = line.get("d") or ids[line.get("href")[1:]]
    found = []
    for run in path.split("M")[1:]:
        numbers = [float(one) for one in re.findall(r"-?(?:\d+(?:\.\d+)?|\.\d+)", run)]
        x = y = 0.0
        points = []
        for dx, dy in zip(numbers[::2], numbers[1::2], strict=True):
            x, y = x + dx, y + dy
            points.append((x, y))
        found.append(points)
    return found


def scales(svg):
    return {name: float(svg.get(f"data-{name}")) for name in ("t0", "t1", "x0", "x1", "v0", "v1", "y0", "y1")}


def test_a_close_look_runs_from_edge_to_edge(near):
    # Readings come five minutes before each hour; this span holds one of them.
    start = BUILT + 50 * HOUR_MS
    svg = plot(near.get(f"/place/p1?from={start}&to={start + 90 * MINUTE_MS}").text)
    (run,) = runs(svg, "24 in")
    assert run[0][0] == pytest.approx(scales(svg)["x0"], abs=0.15)
    assert run[-1][0] == pytest.approx(scales(svg)["x1"], abs=0.15)
    # And so does the shading: it was at temperature before and after.
    (hold,) = (one.get("d") for one in svg.iter("path") if one.get("class") == "d-hold")
    left, right = (float(one) for one in re.match(r"M([\d.]+) [\d.]+H([\d.]+)", hold).groups())
    assert (left, right) == (pytest.approx(scales(svg)["x0"], abs=0.15), pytest.approx(scales(svg)["x1"], abs=0.15))


def test_the_table_behind_a_close_look_holds_no_reading_from_beside_it(near):
    # The last reading came five minutes before now, within the same hour of another clock.
    start = NOW - 4 * MINUTE_MS
    text = near.get(f"/place/p1?from={start}&to={start + HOUR_MS}").text
    cells = re.findall(r"<td>([^<]*)</td>", text)
    assert cells
    assert set(cells) == {"–"}


def test_a_line_stops_where_its_probe_did(near):
    svg = plot(near.get(f"/place/p1?from={NOW - 6 * HOUR_MS}&to={NOW + 6 * HOUR_MS}").text)
    (run,) = runs(svg, "24 in")
    assert run[-1][0] < (scales(svg)["x0"] + scales(svg)["x1"]) / 2


@pytest.fixture
def turned(yard, near):
    """A heap that was turned; its probes lay in the cool air for 40 minutes and are hot again."""
    at = yard.clock
    near.send("/do/work", place="p1", kind="turned")
    for _ in range(4):
        yard.read(("p1-a", 21.0, "Cel"), ("p1-b", 20.5, "Cel"), ("amb", 20.0, "Cel"))
    near.send("/do/probes", place="p1")
    back = yard.clock
    for _ in range(18):
        yard.read(("p1-a", 58.0, "Cel"), ("p1-b", 57.0, "Cel"), ("amb", 20.0, "Cel"))
    return at, back


def test_what_a_probe_read_on_the_ground_is_not_the_heaps(turned, near):
    at, back = turned
    span = f"from={at - 2 * HOUR_MS}&to={at + 4 * HOUR_MS}"
    text = near.get(f"/place/p1?{span}").text
    svg = plot(text)
    marks = scales(svg)
    lowest = max(y for run in runs(svg, "24 in") for _, y in run)
    shown = marks["v0"] + (lowest - marks["y0"]) * (marks["v1"] - marks["v0"]) / (marks["y1"] - marks["y0"])
    assert shown > 120, "no dive"
    assert len(runs(svg, "24 in")) == 2, "a gap, and no line over it"
    (bracket,) = (one for one in svg.iter("line") if one.get("data-out") == "24 in")
    scale = (marks["x1"] - marks["x0"]) / (marks["t1"] - marks["t0"])
    assert float(bracket.get("x1")) == pytest.approx(marks["x0"] + (at - marks["t0"]) * scale, abs=1)
    assert float(bracket.get("x2")) == pytest.approx(marks["x0"] + (back - marks["t0"]) * scale, abs=1)
    # For an hour after, it is back and read, but does not count: the finger and the table say that, not *no reading*.
    assert float(bracket.get("data-fit")) == pytest.approx(marks["x0"] + (back + HOUR_MS - marks["t0"]) * scale, abs=1)
    # The table neither: the hour outside says so.
    assert "68" not in "".join(re.findall(r"<td>([^<]*)</td>", text))
    assert "<td>out</td>" in text
    assert 'data-out="air"' not in text


def test_a_probe_that_came_back_by_itself_is_back_when_the_engine_says_so(yard, near):
    at = yard.clock
    near.send("/do/work", place="p1", kind="turned")
    for heat in [21.0] * 3 + [56.0] * 12:
        yard.read(("p1-a", heat, "Cel"), ("p1-b", heat, "Cel"), ("amb", 20.0, "Cel"))
    returned = yard.writer.engine.state.outings["p1-a"].returned
    assert returned is not None
    from monitor.page.pictures.probe_outings import outings
    from monitor.page.places.all_places import place_view

    with yard.look() as look:
        view = place_view(look.engine, "p1", [], look.now)
        (found,) = outings(look, view, at - HOUR_MS, look.now)["p1-a"]
    assert (found.start, found.end) == (yard.works()[0]["time"], returned)


def test_a_probe_that_was_taken_out_and_not_put_back_lies_outside_still(yard, near):
    near.send("/do/work", place="p1", kind="probe out", probe="p1-a")
    yard.read(("p1-a", 21.0, "Cel"), ("p1-b", 58.0, "Cel"), ("amb", 20.0, "Cel"))
    svg = plot(near.get("/place/p1?span=day").text)
    (bracket,) = (one for one in svg.iter("line") if one.get("data-out"))
    assert bracket.get("data-out") == "24 in"
    assert float(bracket.get("x2")) == pytest.approx(scales(svg)["x1"], abs=0.2)


def limits(svg):
    words = [one.text or "" for one in svg.iter("text")]
    names = "hold|hot|too hot|fire danger|overheating|danger|hot spot|near freezing|frost|too wet|too dry"
    return {one for one in words if re.fullmatch(rf"({names}) [\d.]+", one)}


def test_limits_that_can_ring_are_drawn(near):
    assert limits(plot(near.get("/place/p1").text)) == {"hold 131", "hot 160", "too hot 170", "fire danger 180"}
    text = near.get("/place/b1").text
    assert limits(plot(text)) == {"overheating 85", "danger 90", "hot spot 95"}
    assert limits(plot(text, 1)) == {"too dry 60", "too wet 85"}
    section = re.search(r'class="drawn">\s*<div class="wide">(<svg.*?</svg>)', text, re.DOTALL)[1]
    heat = ("overheating 85", "danger 90", "hot spot 95", "near freezing 43", "frost 39")
    for words in (*heat, "too dry 60", "too wet 85"):
        assert f">{words}<" in section, words
    assert "Limit 85 °F: overheating." in section


def test_a_limit_against_cold_is_drawn_when_it_comes_near(yard, near):
    yard.read(("b1-t", 6.0, "Cel"))
    assert {"frost 39", "near freezing 43"} <= limits(plot(near.get("/place/b1").text))


def test_plots_of_a_place_share_one_frame(near):
    text = near.get("/place/b1").text
    heat, damp = scales(plot(text)), scales(plot(text, 1))
    assert (heat["x0"], heat["x1"]) == (damp["x0"], damp["x1"]), "their time lines up"


def test_a_line_is_named_by_its_depth_with_its_newest_value(near):
    words = [one.text for one in plot(near.get("/place/p1").text).iter("text")]
    assert {"24 in", "140", "p1-b", "136.4", "air", "68"} <= set(words)


def test_each_plot_says_what_it_is_of(near):
    text = near.get("/place/b1").text
    titles = re.findall(r'<figure class="plot"[^>]*>\s*<h3>([^<]+)</h3>', text)
    assert titles == ["Temperature in the bedding, °F", "Moisture, %"]


def test_a_reading_by_hand_is_no_probe_and_lies_never_outside(yard, near):
    near.send("/do/reading", place="p1", value="131")
    near.send("/do/work", place="p1", kind="turned")
    near.send("/do/reading", place="p1", value="120")
    assert [kind for kind, _ in yard.put_in].count(EventKind.READINGS) == 2
    svg = plot(near.get("/place/p1").text)
    assert len(runs(svg, "by hand")[0]) == 2


def test_a_turning_that_was_logged_when_it_was_done_leaves_out_what_was_felt_before_it(yard, near):
    for heat in (60.0, 21.0, 21.0, 20.5):
        yard.read(("p1-a", heat, "Cel"), ("p1-b", heat, "Cel"), ("amb", 20.0, "Cel"))
    felt = yard.clock - 3 * (10 * MINUTE_MS + 1000) - 2000
    near.send("/do/work", place="p1", kind="turned")
    near.send("/do/probes", place="p1")
    for _ in range(12):
        yard.read(("p1-a", 58.0, "Cel"), ("p1-b", 57.0, "Cel"), ("amb", 20.0, "Cel"))
    svg = plot(near.get(f"/place/p1?from={felt - 2 * HOUR_MS}&to={felt + 4 * HOUR_MS}").text)
    marks = scales(svg)
    lowest = max(y for run in runs(svg, "24 in") for _, y in run)
    assert marks["v0"] + (lowest - marks["y0"]) * (marks["v1"] - marks["v0"]) / (marks["y1"] - marks["y0"]) > 120
    (bracket,) = (one for one in svg.iter("line") if one.get("data-out") == "24 in")
    scale = (marks["x1"] - marks["x0"]) / (marks["t1"] - marks["t0"])
    assert float(bracket.get("x1")) == pytest.approx(marks["x0"] + (felt - marks["t0"]) * scale, abs=1)


@pytest.mark.parametrize(
    "work",
    [{"kind": "turned"}, {"kind": "moved", "to": "p2"}, {"kind": "probe out", "probe": "p1-a"}],
    ids=lambda work: work["kind"],
)
def test_what_was_read_at_the_very_instant_of_going_out_is_no_reading_of_the_heap(yard, near, work):
    read_at = BUILT + 50 * HOUR_MS - 5 * MINUTE_MS
    yard.put(EventKind.WORK, {"time": read_at, "place": "p1", "by": "x", **work}, again=True)
    from monitor.page.pictures.place_plots import plots
    from monitor.page.places.all_places import place_view

    with yard.look() as look:
        place = look.engine.place_of("p1-a")
        view = place_view(look.engine, place, [], look.now)
        (own,) = (one for one in plots(look, view, BUILT, look.now)[0].series if one.probe == "p1-a")
    times = own.time.tolist()
    assert read_at - HOUR_MS in times
    assert read_at not in times


def test_turnings_are_numbered_as_they_count(yard, near):
    for _ in range(3):
        near.send("/do/work", place="p1", kind="turned", again="1")
        yard.clock += 60_000
    svg = plot(near.get("/place/p1?span=day").text)
    assert len([one for one in svg.iter("line") if one.get("class") == "d-turning"]) == 1


def test_a_probe_of_a_bin_that_was_taken_out_is_outside_until_it_is_back(yard, near):
    near.send("/do/work", place="b1", kind="probe out", probe="b1-t", again="1")
    text = near.get("/place/b1").text
    assert 'aria-label="b1-t is back in"' in text
    assert "overheating" not in re.search(r'<p class="state">([^<]*)</p>', text)[1]
    assert "d-worm" not in text.split("</svg>")[0]
    yard.read(("b1-t", 5.0, "Cel"), ("b1-m", 72.0, "%"))
    assert 'data-out="b1-t"' in near.get("/place/b1?span=day").text
    near.send("/do/work", place="b1", kind="probe in", probe="b1-t", again="1")
    assert 'aria-label="b1-t is taken out"' in near.get("/place/b1").text


def test_a_stretch_of_time_may_be_given_either_way_round(near):
    early, late = NOW - 20 * HOUR_MS, NOW - 10 * HOUR_MS
    assert scales(plot(near.get(f"/place/p1?from={late}&to={early}").text))["t0"] == early
