"""What is handed to the drawings of a heap and of a bin: lines, limits, shading, marks, and the probes of a section."""

from dataclasses import replace
from types import SimpleNamespace

import page_yard_for_tests
import pytest
from page_visitor import browser
from page_yard_for_tests import BUILT, NOW, TestYard, page_of

from monitor.drawing import LineKind, NoteKind, OverTime
from monitor.model.alarm_kinds import Alarm
from monitor.model.effects import Draft, Effect, EffectKind
from monitor.model.events import EventKind
from monitor.model.readings import Reading
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.work import Work, WorkKind
from monitor.page import Entry
from monitor.page.pictures import place_plots, section_pictures
from monitor.page.pictures.plot_marks import marks_between

LAST = NOW - 5 * MINUTE_MS
SPAN = f"?from={NOW - DAY_MS}&to={NOW}"


@pytest.fixture
def drawn(monkeypatch):
    """Return a function that opens a place's sheet and returns what was to be drawn on it: (sections, plots)."""
    handed = []

    def draw(picture):
        handed.append(picture)
        return "<svg/>"

    def draw_sizes(picture, sizes, name):
        return [draw(replace(picture, **size._asdict())) for size in sizes]

    monkeypatch.setattr(place_plots, "over_time_sizes", draw_sizes)
    monkeypatch.setattr(section_pictures, "pile_section", draw)
    monkeypatch.setattr(section_pictures, "bin_section", draw)

    def opened(near, place, query=""):
        handed.clear()
        assert near.get(f"/place/{place}{query}").status_code == 200
        plots = [one for one in handed if isinstance(one, OverTime)]
        return [one for one in handed if not isinstance(one, OverTime)], plots

    return opened


@pytest.fixture
def made(tmp_path_factory, monkeypatch):
    """Return a function that makes the yard with more in its configuration, and who opens its page."""
    yards = []

    def with_more(more, **changes):
        text = page_yard_for_tests.TOML + more
        for old, new in changes.values():
            text = text.replace(old, new)
        monkeypatch.setattr(page_yard_for_tests, "TOML", text)
        yards.append(TestYard(tmp_path_factory.mktemp("more")))
        return yards[-1], browser(page_of(yards[-1])[0])

    yield with_more
    for one in yards:
        one.close()


def lines(plot):
    return [(one.name, one.kind, one.max_gap_ms) for one in plot.lines]


def labels(plot):
    return [(one.milli, one.label) for one in plot.limits]


def test_a_plot_of_a_heap_is_drawn_for_three_widths_with_all_that_belongs_to_it(drawn, near):
    _, plots = drawn(near, "p1")
    assert [(one.width, one.height, one.points) for one in plots] == [
        (860, 300, 2236),
        (460, 270, 1196),
        (276, 250, 717),
    ]
    plot = plots[0]
    assert (plot.start, plot.end, plot.now, plot.title) == (BUILT, NOW, NOW, "Bay 1, Temperature inside, °F")
    assert (plot.zone.key, plot.unit, plot.comfort, plot.notes) == ("America/New_York", "degF", (), ())
    gap = 2 * HOUR_MS
    assert lines(plot) == [
        ("24 in", LineKind.PROBE, gap), ("p1-b", LineKind.GOVERNING, gap), ("air", LineKind.AMBIENT, gap),
    ]  # fmt: skip
    assert labels(plot) == [(55_000, "hold"), (71_111, "hot"), (76_667, "too hot"), (82_222, "fire danger")]
    ((begun, end),) = plot.holds
    assert (begun, end) == (BUILT + 21 * HOUR_MS + 15 * MINUTE_MS, LAST), "since the coldest reached 131 °F"


def test_a_bin_has_a_plot_of_heat_and_a_lower_one_of_moisture_that_share_their_points(drawn, near):
    _, plots = drawn(near, "b1", SPAN)
    assert [(one.width, one.height, one.points) for one in plots] == [
        (860, 300, 1118), (460, 270, 598), (276, 250, 358), (860, 180, 1118), (460, 175, 598), (276, 170, 358),
    ]  # fmt: skip
    heat, damp = plots[0], plots[3]
    assert (heat.title, damp.title) == ("Sunny wall bin, Temperature in the bedding, °F", "Sunny wall bin, Moisture, %")
    assert (heat.unit, damp.unit) == ("degF", "%")
    assert [(one.low_milli, one.high_milli) for one in (*heat.comfort, *damp.comfort)] == [
        (15_556, 26_667),
        (60_000, 85_000),
    ]
    assert labels(heat) == [(29_444, "overheating"), (32_222, "danger"), (35_000, "hot spot")]
    assert (damp.notes, damp.holds, heat.holds) == ((), (), ())
    assert labels(damp) == [(60_000, "too dry"), (85_000, "too wet")]
    ((at, number, kind),) = [(one.at, one.number, one.kind) for one in heat.notes]
    assert (number, kind) == (1, NoteKind.NOTICE)
    assert NOW - 2 * HOUR_MS < at < NOW - HOUR_MS
    assert lines(heat)[0][1] is LineKind.PROBE


def test_now_is_marked_only_where_the_span_holds_it(drawn, near):
    for start, end, now in (
        (NOW - DAY_MS, NOW, NOW),
        (NOW, NOW + DAY_MS, NOW),
        (NOW - DAY_MS, NOW - 1, None),
        (NOW + 1, NOW + DAY_MS, None),
    ):
        assert drawn(near, "p1", f"?from={start}&to={end}")[1][0].now == now


HOT = ["overheating", "danger", "hot spot"]


@pytest.mark.parametrize(
    ("celsius", "shown"),
    [
        (9.9, ["frost", "near freezing", *HOT]),
        (13.9, ["near freezing", *HOT]),
        (14.2, HOT),
        (32.4, HOT),
    ],
)
def test_a_limit_of_a_bin_is_drawn_where_readings_of_the_span_come_near_it(drawn, yard, near, celsius, shown):
    yard.read(("b1-t", celsius, "Cel"), after_ms=DAY_MS)
    _, plots = drawn(near, "b1", f"?from={yard.clock - HOUR_MS}&to={yard.clock}")
    assert [one.label for one in plots[0].limits] == shown
    sections, _ = drawn(near, "b1")
    assert [one.label for one in sections[0].heat_limits] == ["frost", "near freezing", *HOT], "a ruler names all"
    assert [one.label for one in sections[0].damp_limits] == ["too dry", "too wet"]


def test_moisture_and_oxygen_of_a_heap_have_their_own_plots_and_limits(drawn, made):
    more = "".join(
        f'[probes.p1-{one[0]}]\nplace = "p1"\nrole = "core"\nquantity = "{one}"\n' for one in ("moisture", "oxygen")
    )
    yard, near = made(more)
    yard.read(("p1-m", 52.0, "%"), ("p1-o", 12.0, "%"))
    sections, plots = drawn(near, "p1")
    assert [one.title.partition(", ")[2] for one in plots[::3]] == [
        "Temperature inside, °F",
        "Moisture, %",
        "Oxygen, %",
    ]
    assert {one.points for one in plots if one.width == 860} == {745}
    _, damp, air = plots[::3]
    (comfort,) = damp.comfort
    assert (comfort.label, comfort.low_milli < comfort.high_milli, labels(damp)) == ("comfort", True, [])
    ((_, label),) = labels(air)
    assert (label, air.comfort) == ("low", ())
    assert lines(damp) == [("p1-m", LineKind.PROBE, 2 * HOUR_MS)]
    assert [one.name for one in sections[0].probes] == ["", "p1-b"], "a section shows heat"


def test_readings_by_hand_are_rings_that_go_on_for_a_week_and_need_no_probe(drawn, yard, near):
    near.send("/do/reading", place="p2", value_1="141", value_3="139", by="Ann", again="1")
    _, plots = drawn(near, "p2", f"?from={NOW - DAY_MS}&to={NOW + HOUR_MS}")
    assert lines(plots[0]) == [
        ("air", LineKind.AMBIENT, 2 * HOUR_MS),
        ("by hand at east", LineKind.BY_HAND, None),
        ("by hand at west", LineKind.BY_HAND, None),
    ]
    assert [one.milli.tolist() for one in plots[0].lines[1:]] == [[59_444], [60_556]]
    later = f"?from={NOW + 7 * DAY_MS}&to={NOW + 7 * DAY_MS + HOUR_MS}"
    yard.clock += 7 * DAY_MS
    assert len(drawn(near, "p2", later)[1][0].lines) == 2, "it carries to the edge for a week"
    near.send("/do/reading", place="p1", value="131")
    assert drawn(near, "p1", SPAN)[1][0].lines[0].name == "24 in"


def test_the_air_is_the_first_probe_of_temperature_outside(drawn, made):
    more = '[probes.aa-damp]\nplace = "ambient"\nquantity = "moisture"\n[probes.zz]\nplace = "ambient"\n'
    yard, near = made(more)
    yard.read(("zz", 5.0, "Cel"), ("aa-damp", 60.0, "%"))
    (air,) = [one for one in drawn(near, "p1")[1][0].lines if one.kind is LineKind.AMBIENT]
    assert set(air.milli.tolist()) == {20_000}


def test_the_shading_takes_the_rules_temperature_and_the_shorter_gap(drawn, made):
    yard, near = made("", rule=("us-112-54-turned", "none"))
    assert labels(drawn(near, "p1")[1][0])[0] == (55_000, "hold")
    yard.read(("p1-a", 60.0, "Cel"), ("p1-b", 60.0, "Cel"), after_ms=2 * HOUR_MS + 10 * MINUTE_MS)
    assert drawn(near, "p1")[1][0].holds[0][1] == LAST, "over more than 2 h nothing is shaded"


def test_turnings_are_numbered_from_the_building_on_and_shown_within_the_span(drawn, yard, near):
    for hours in (60, 58, 40, 20):
        payload = {"time": NOW - hours * HOUR_MS, "place": "p1", "kind": "turned", "by": "x"}
        yard.put(EventKind.WORK, payload, again=True)
    turned = drawn(near, "p1")[1][0].turnings
    assert [(one.at, one.label) for one in turned] == [
        (NOW - 60 * HOUR_MS, "1"), (NOW - 40 * HOUR_MS, "2"), (NOW - 20 * HOUR_MS, "3"),
    ]  # fmt: skip
    turned = drawn(near, "p1", f"?from={NOW - 40 * HOUR_MS}&to={NOW - 20 * HOUR_MS}")[1][0].turnings
    assert [one.label for one in turned] == ["2", "3"]


def test_a_probe_outside_is_drawn_with_its_gap_and_the_hour_after(drawn, yard, near):
    near.send("/do/work", place="p1", kind="probe out", probe="p1-b")
    forever = 2**62
    (_, out, _) = drawn(near, "p1")[1][0].lines
    assert (out.outside, out.fit_again, out.kind) == (((NOW, forever),), (forever,), LineKind.PROBE)
    yard.clock += HOUR_MS
    near.send("/do/work", place="p1", kind="probe in", probe="p1-b")
    back = yard.works()[-1]["time"]
    line = drawn(near, "p1")[1][0].lines[1]
    assert (line.outside, line.fit_again) == (((NOW, back),), (back + HOUR_MS,))


def test_a_section_of_a_heap_shows_each_probe_at_its_place_with_its_state(drawn, made):
    yard, near = made('[probes.p1-c]\nplace = "p1"\nrole = "core"\n[probes.p1-d]\nplace = "p1"\nrole = "surface"\n')
    (wide, narrow), _ = drawn(near, "p1")
    assert [(one.width, one.height) for one in (wide, narrow)] == [(480, 264), (276, 220)]
    assert (wide.title, wide.air_milli_c, wide.hold_milli_c, wide.empty) == (
        "Bay 1 in section, heating, 3 days old", 20_000, 55_000, False,
    )  # fmt: skip
    told = [(one.name, one.milli_c, one.depth_milli_m, str(one.state)) for one in wide.probes]
    assert told == [
        ("", 60_000, 600, "live"),
        ("p1-b", 58_000, None, "live"),
        ("p1-c", None, None, "silent"),
        ("p1-d", None, None, "silent"),
    ], "a depth of its own names a probe"
    near.send("/do/work", place="p1", kind="probe out", probe="p1-a")
    yard.read(("p1-b", 58.0, "Cel"), ("amb", 20.0, "Cel"), after_ms=9 * HOUR_MS)
    assert [str(one.state) for one in drawn(near, "p1")[0][0].probes][:2] == ["out", "live"]


def test_a_single_probe_is_drawn_and_an_empty_bay_without_a_heap(drawn, made, near):
    _, alone = made("", gone=('[probes.p1-b]\nplace = "p1"', '[probes.p1-b]\nplace = "p2"'))
    assert len(drawn(alone, "p1")[0][0].probes) == 1
    empty = drawn(near, "p2")[0][0]
    assert (empty.empty, empty.hold_milli_c, empty.title) == (True, None, "Bay 2 in section, empty")


def test_a_section_of_a_bin_shows_its_probes_its_comfort_and_what_was_fed(drawn, yard, near):
    (wide, narrow), _ = drawn(near, "b1")
    assert [(one.width, one.height) for one in (wide, narrow)] == [(480, 250), (276, 276)]
    assert [(one.name, one.milli, one.words) for one in wide.probes] == [
        ("b1-m", 72_000, "5 min ago"), ("b1-t", 34_000, "5 min ago"),
    ]  # fmt: skip
    assert (wide.heat_comfort, wide.damp_comfort, wide.air_milli_c) == ((15_556, 26_667), (60_000, 85_000), 20_000)
    assert (wide.fed, wide.fed_ms) == ("", None)
    near.send("/do/work", place="b1", kind="fed", amount="2", measure="lb")
    yard.clock = NOW + 3 * HOUR_MS
    (wide, narrow), _ = drawn(near, "b1")
    assert (wide.fed, narrow.fed) == ("fed 3 h ago", "fed 3 h ago")
    assert wide.fed_ms == narrow.fed_ms == 3 * HOUR_MS
    assert wide.title == "Sunny wall bin in section, temperature unknown, moisture unknown", "nothing was heard for 3 h"
    near.send("/do/work", place="b1", kind="emptied", again="1")
    assert drawn(near, "b1")[0][0].fed_ms is None


# The marks under a plot


def effect(at, kind, axis, *, after=None, why="", text="", keys=()):
    draft = Draft(
        place="b1", kind=kind, axis=axis, before=None, after=after, why=why, since=at, reason="", text=text,
        values={"keys": keys},
    )  # fmt: skip
    return Effect(at=at, ordinal=0, draft=draft)


def rang(at, why, axis=Alarm.WORMS_IN_DANGER):
    return effect(at, EffectKind.ALARM, axis, after="unacknowledged", why=why)


def told(at, text, *, keys=(), occasion="new"):
    return effect(at, EffectKind.NOTICE, occasion, after="ann", text=text, keys=keys)


def work(at, kind=WorkKind.FED, **more):
    return Entry(at, Work(time=at, place="b1", kind=kind, by="x", **more))


def marks(yard, effects=(), works=(), *, start=0, end=10**15):
    with yard.look() as real:
        look = SimpleNamespace(
            engine=real.engine,
            works=lambda place, after: [one for one in works if one.work.time > after],
            effects=lambda after, until, place: [one for one in effects if after < one.at <= until],
        )
        return marks_between(look, "b1", start, end)


def shown(found):
    return [(one.number, one.at - NOW, one.words, str(one.kind)) for one in found.shown]


def test_work_and_messages_are_numbered_together_in_order_of_time(yard):
    found = marks(
        yard,
        [rang(NOW + 20, "Sunny wall bin: too warm."), told(NOW + 40, "Sunny wall bin: all is well. More follows.")],
        [work(NOW + 10, amount="2", measure="lb"), work(NOW + 30, WorkKind.HARVESTED)],
    )
    assert shown(found) == [
        (1, 10, "fed 2 lb", "work"),
        (2, 20, "Too warm", "notice"),
        (3, 30, "harvested", "work"),
        (4, 40, "all is well", "notice"),
    ]
    assert found.left_out == 0


def test_both_ends_of_the_span_belong_to_it(yard):
    works = [work(at) for at in (NOW - 1, NOW, NOW + 9, NOW + 10)]
    effects = [rang(at, "x") for at in (NOW - 1, NOW, NOW + 9, NOW + 10)]
    found = marks(yard, effects, works, start=NOW, end=NOW + 9)
    assert [at for _, at, _, _ in shown(found)] == [0, 0, 9, 9]


def test_probes_and_turnings_have_marks_of_their_own(yard):
    kinds = (WorkKind.TURNED, WorkKind.PROBE_IN, WorkKind.PROBE_OUT, WorkKind.WATERED)
    assert [words for _, _, words, _ in shown(marks(yard, works=[work(NOW, kind) for kind in kinds]))] == ["watered"]


def test_an_alarm_is_marked_when_it_begins_and_several_of_one_instant_once(yard):
    found = marks(
        yard,
        [
            rang(NOW, "b1-t is silent.", Alarm.SILENT),
            rang(NOW, "b1-m is silent.", Alarm.SILENT),
            rang(NOW, "x is silent.", Alarm.SILENT),
            rang(NOW, "Too warm."),
            rang(NOW + 1, "b1-t is silent.", Alarm.SILENT),
            effect(NOW, EffectKind.ALARM, Alarm.SILENT, after="normal", why="Over."),
            effect(NOW, EffectKind.NOTICE, "digest", after="unacknowledged", why="No alarm.", text="x"),
        ],
    )
    assert [words for _, _, words, _ in shown(found)] == [
        "B1-t is silent; 2 more likewise", "Too warm", "B1-t is silent",
    ]  # fmt: skip


def test_a_message_of_other_news_is_marked_once_and_one_of_an_alarm_by_the_alarm_alone(yard):
    found = marks(
        yard,
        [
            told(NOW, "Its rule is met. Well done.", keys=("p1/rule-met",)),
            told(NOW + 1, "Its rule is met. Well done.", keys=("p1/rule-met",)),
            told(NOW + 2, "WORMS IN DANGER.", keys=("b1/worms-in-danger",)),
            told(NOW + 3, "Something else.", occasion="reminder"),
            told(NOW + 4, "Warm since yesterday 05:00.", keys=("b1",)),
        ],
    )
    assert [(at, words) for _, at, words, _ in shown(found)] == [
        (0, "Its rule is met"), (4, "Warm since 19 Jul 05:00."),
    ]  # fmt: skip


def test_the_newest_24_marks_are_shown_and_the_older_counted(yard):
    works = [work(NOW + number) for number in range(24)]
    assert (len(marks(yard, works=works).shown), marks(yard, works=works).left_out) == (24, 0)
    found = marks(yard, works=[*works, work(NOW + 24)])
    assert (found.shown[0].at, found.shown[0].number, found.shown[-1].number, found.left_out) == (NOW + 1, 1, 24, 1)


def test_marks_that_are_left_out_are_told_on_the_sheet(yard, near):
    for number in range(26):
        payload = {"time": NOW - number * HOUR_MS, "place": "p1", "kind": "watered", "by": "x"}
        yard.put(EventKind.WORK, payload, again=True)
    text = near.get("/place/p1").text
    assert "2 earlier marks are left out; look closer to see them." in text
    assert text.count('<li value="24"') == 1


def test_readings_of_one_instant_in_a_plot_are_those_of_the_probe_itself(yard, near, drawn):
    with yard.writer.turn(yard.clock + 1_000) as turn:
        turn.readings([Reading(yard.clock, "p1-a", 61_000_000, "Cel")])
    yard.clock += 2_000
    assert drawn(near, "p1")[1][0].lines[0].milli.tolist()[-1] == 61_000


def test_a_metric_yard_reads_degrees_celsius_and_centimetres(drawn, made):
    _, near = made("", unit=('temperature_unit = "degF"', 'temperature_unit = "degC"'))
    sections, plots = drawn(near, "p1")
    assert (sections[0].unit, plots[0].unit) == ("degC", "degC")
    text = near.get("/place/p1").text
    assert "core, 60 cm deep; 5 min ago" in text
    assert "inside: coldest 58 °C, hottest 60 °C" in text
    assert "<span>°C</span>" in text
