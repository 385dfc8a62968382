"""How far a heap is with its rule, in the words of its sheet."""

import page_yard_for_tests
import pytest
from page_visitor import browser, words_of
from page_yard_for_tests import Papers, TestYard, page_of

from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.page.places.all_places import place_view


class Heap:
    """The first heap of the yard under some rule; three days old, at 136 °F or more in its last two."""

    def __init__(self, folder, monkeypatch, rule):
        monkeypatch.setattr(page_yard_for_tests, "TOML", page_yard_for_tests.TOML.replace("us-112-54-turned", rule))
        self.yard = TestYard(folder)
        self.near = browser(page_of(self.yard, certifying=Papers())[0])

    def read(self, celsius, hours, *, every_ms=HOUR_MS):
        for _ in range(hours):
            self.yard.read(("p1-a", celsius, "Cel"), ("p1-b", celsius, "Cel"), after_ms=every_ms)
        return self

    def turn(self):
        self.near.send("/do/work", place="p1", kind="turned", again="1")
        self.near.send("/do/probes", place="p1")
        return self

    @property
    def text(self):
        return self.near.get("/place/p1").text

    @property
    def rule(self):
        """The standing and the counts of the rule, without its title and its buttons."""
        told = words_of(self.text, "rule")
        return [one for one in told[1:] if not one.startswith(("Which days", "Make a"))]

    @property
    def short(self):
        """The one line about the rule at the head of the sheet."""
        return words_of(self.text, "head")[3]


@pytest.fixture
def heap(tmp_path, monkeypatch):
    made = []

    def ruled(rule="us-112-54-turned"):
        made.append(Heap(tmp_path, monkeypatch, rule))
        return made[-1]

    yield ruled
    for one in made:
        one.yard.close()


def strokes(text):
    """Return how many strokes of each count are full, and how many there are."""
    return [(one.count('class="full"'), one.count("<i ")) for one in text.split('class="tally"')[1:]]


def test_days_and_turnings_are_counted_in_words_and_strokes(heap):
    one = heap()
    assert one.rule == ["Running; today counts so far.", "2 of 15 days", "0 of 5 turnings"]
    assert one.short == "2 of 15 days, 0 of 5 turnings"
    assert strokes(one.text) == [(2, 15), (0, 5)]
    assert 'href="/days/p1"' in one.text
    one.turn()
    assert one.rule[2] == "0 of 5 turnings; the 1st counts when it is back at temperature"
    one.read(60.0, 3)
    assert one.rule[1:] == ["2 of 15 days", "1 of 5 turnings"]
    one.read(60.0, 4).turn()
    assert one.rule[2] == "1 of 5 turnings; the 2nd counts when it is back at temperature"


def test_what_is_met_says_so_and_speaks_of_no_today(heap):
    one = heap()
    for _ in range(5):
        one.turn().read(60.0, 41, every_ms=115 * MINUTE_MS)
    assert one.rule == ["Met.", "15 of 15 days", "5 of 5 turnings"]
    assert one.short == "its rule is met: 15 of 15 days, 5 of 5 turnings"
    one.turn()
    assert one.rule == ["Met.", "15 of 15 days", "5 of 5 turnings"]


def test_hours_in_one_piece_are_counted_up_to_what_is_asked(heap):
    one = heap("us-503-pfrp-static")
    counted = "50 h 39 min of 72 h in one piece"
    assert one.rule == ["Running.", f"{counted} {counted}"], "also for those who see no bar"
    assert one.short == counted
    assert '<progress max="72" value="50.666">' in one.text
    assert "/days/p1" not in one.text
    one.read(60.0, 30)
    assert one.short == "its rule is met: 72 h of 72 h in one piece"


def test_a_rule_of_an_hour_is_drawn_as_a_single_stroke(heap):
    one = heap("eu-142-2011-pasteurisation")
    assert one.rule == ["Not begun.", "0 s of 1 h in one piece"]
    assert one.short == "its rule has not begun: not at temperature yet"
    assert strokes(one.text) == [(0, 1)]
    one.read(71.0, 3)
    assert one.rule == ["Met.", "1 h of 1 h in one piece"]
    assert strokes(one.text) == [(1, 1)]


def test_turnings_that_each_need_their_hours_say_how_many(heap):
    one = heap("au-as-4454-low")
    assert one.rule == ["Running.", "0 of 3 turnings, each after 72 h in one piece"]
    one.read(60.0, 30).turn()
    assert one.rule[1] == "1 of 3 turnings, each after 72 h in one piece"
    assert strokes(one.text) == [(1, 3)]


def test_of_several_temperatures_the_one_that_is_nearest_is_named(heap):
    one = heap("de-bioabfv")
    assert one.short == "2 of 14 days at 131 °F"
    one.read(67.0, 31, every_ms=115 * MINUTE_MS)
    assert one.short == "2 of 3 days at 149 °F"
    one.read(67.0, 21, every_ms=115 * MINUTE_MS)
    assert one.short == "its rule is met: 3 of 3 days at 149 °F"


def test_a_rule_that_nothing_counts_under_way_only_runs(heap):
    one = heap("us-503-psrp")
    assert (one.rule, one.short) == (["Running."], "its rule is running")


def test_a_heap_without_a_rule_tells_of_none(heap):
    one = heap("none")
    assert words_of(one.text, "rule") == []
    assert words_of(one.text, "head")[3].startswith("built ")


@pytest.mark.parametrize(
    ("rule", "look"), [("none", "well"), ("us-112-54-turned", "watch"), ("us-503-pfrp-static", "well")]
)
def test_a_heap_that_cools_is_out_of_order_only_while_its_rule_waits(heap, rule, look):
    one = heap(rule).read(60.0, 30).read(45.0, 14, every_ms=115 * MINUTE_MS)
    with one.yard.look() as seen:
        view = place_view(seen.engine, "p1", [], seen.now)
    assert (view.state.partition(",")[0], view.look) == ("cooling", look)


def test_raw_material_begins_the_rule_anew(heap):
    one = heap()
    one.near.send("/do/work", place="p1", kind="added", amount="5", measure="lb", what="dung", again="1")
    assert one.short == "raw material came in: its rule begins anew"
    assert one.rule == ["Not begun.", "0 of 15 days", "0 of 5 turnings"]
    one.read(60.0, 2)
    assert one.rule == ["Running; today counts so far.", "0 of 15 days", "0 of 5 turnings"]


def test_a_day_below_temperature_does_not_count_and_the_next_may(heap):
    one = heap().read(49.0, 8, every_ms=30 * MINUTE_MS).read(60.0, 2)
    assert one.rule[0] == "Running; today does not count: it was below temperature."
    assert one.read(60.0, 24).rule[:2] == ["Running; today counts so far.", "3 of 15 days"]


def test_a_day_of_which_too_little_is_proven_does_not_count(heap):
    one = heap().read(60.0, 1, every_ms=20 * HOUR_MS).read(60.0, 1)
    assert one.rule[:2] == ["Running; today does not count: too much of it is not proven.", "2 of 15 days"]


@pytest.mark.parametrize(
    ("silent_ms", "words"),
    [
        (2 * HOUR_MS - 5 * MINUTE_MS, "today counts so far"),
        (2 * HOUR_MS - 5 * MINUTE_MS + 1, "nothing of the last 2 h counts yet"),
        (9 * HOUR_MS, "nothing of the last 9 h 5 min counts yet"),
    ],
)
def test_without_readings_for_two_hours_nothing_is_said_of_today(heap, silent_ms, words):
    one = heap()
    one.yard.clock += silent_ms
    assert one.rule[0] == f"Running; {words}."


def test_a_heap_that_is_turned_too_often_says_that_days_are_lost_by_it(heap):
    one = heap()
    for _ in range(9):
        one.turn().read(45.0, 10).read(60.0, 8, every_ms=105 * MINUTE_MS)
    lost = "more than a quarter of the time would be recovery after turnings, so turn it less often"
    assert one.rule[:2] == [f"Running; 1 day does not count: {lost}.", "10 of 15 days"]
    one.turn().read(45.0, 10).read(60.0, 8, every_ms=105 * MINUTE_MS)
    assert one.rule[0] == f"Running; 2 days do not count: {lost}."


def test_which_days_count_is_told_by_the_day(heap):
    one = heap()
    text = one.near.get("/days/p1").text
    assert "1 of 2 days count, as a certificate made now would say." in text
    assert text.index("Sat 18 Jul 2026, 08:00") < text.index("Fri 17 Jul 2026, 08:00"), "the newest first"
    assert '<p class="state">Produce safety, turned composting</p>' in text
