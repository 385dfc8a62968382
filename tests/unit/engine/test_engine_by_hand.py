"""Readings taken by hand: every limit applies to each at once, spot by spot, and one that is taken back was never so."""

import pytest
from engine_both_doors import Recorder, same
from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard

from monitor.model.thresholds import BinThresholds, PileThresholds

WITHOUT = {"probes": {}}


def read(drive, at, place, fahrenheit, *, spot="", entered=None, by="Ann"):
    series = f"hand:{place}:{spot}" if spot else f"hand:{place}"
    row = [at, series, round(fahrenheit * 1_000_000), "[degF]"]
    return drive.feed(at if entered is None else entered, "readings", {"rows": [row], "ahead": [], "by": by})


def told(drive, words):
    return [e.draft.text for e in drive.notices(words)]


@pytest.mark.parametrize(
    ("place", "fahrenheit", "alarm"),
    [("p1", 185, "fire"), ("p1", 171, "too-hot"), ("b1", 97, "worms-in-danger"), ("b1", 38, "freezing")],
)
def test_every_limit_applies_at_once(place, fahrenheit, alarm):
    drive = Drive(yard(**WITHOUT))
    read(drive, T0 + HOUR, place, fahrenheit)
    assert drive.rings(alarm, place) == [T0 + HOUR]
    assert told(drive, "by hand") or alarm == "fire"


@pytest.mark.parametrize(
    ("place", "fahrenheit", "alarm", "after"),
    [("p1", 165, "hot", 6 * HOUR), ("b1", 92, "worms-in-danger", 15 * MIN), ("b1", 86, "overheating", 20 * MIN)],
)
def test_a_delay_counts_from_the_readings_own_time(place, fahrenheit, alarm, after):
    drive = Drive(yard(**WITHOUT))
    read(drive, T0 + HOUR, place, fahrenheit, entered=T0 + HOUR + 5 * MIN)
    drive.advance(T0 + DAY)
    assert drive.rings(alarm, place) == [T0 + HOUR + after]


def test_one_entered_hours_later_rings_as_if_it_were_fresh_and_a_delay_that_is_over_at_once():
    drive = Drive(yard(**WITHOUT))
    read(drive, T0, "p1", 172, entered=T0 + 11 * HOUR)
    assert drive.rings("too-hot") == [T0 + 11 * HOUR]
    drive.work(T0, "p2", "built", entered=T0 + 11 * HOUR + MIN)
    read(drive, T0 + 2 * HOUR, "p2", 165, entered=T0 + 11 * HOUR + 2 * MIN)
    drive.advance(T0 + 12 * HOUR)
    assert drive.rings("hot", "p2") == [T0 + 11 * HOUR + 2 * MIN + 1]


def test_an_older_one_enters_the_record_and_a_fire_is_still_told_in_the_past_tense():
    drive = Drive(yard(**WITHOUT))
    read(drive, T0, "p1", 185, entered=T0 + 13 * HOUR)
    read(drive, T0, "b1", 97, entered=T0 + 13 * HOUR + MIN)
    assert drive.rings("fire") == drive.rings("worms-in-danger") == []
    assert len(told(drive, "was read by hand yesterday 19:00")) == 2
    assert "Look at it now" in told(drive, "185 °F")[0] if drive.settings.site.temperature_unit == "degF" else True


def test_one_older_than_the_newest_of_its_spot_ends_nothing():
    drive = Drive(yard(**WITHOUT))
    read(drive, T0 + 2 * HOUR, "p1", 171)
    read(drive, T0 + HOUR, "p1", 120, entered=T0 + 2 * HOUR + MIN)
    assert drive.state_of("p1/too-hot") == "unacknowledged"
    read(drive, T0 + 3 * HOUR + MIN, "p1", 120)
    assert drive.state_of("p1/too-hot") == "returned unacknowledged"


def test_spots_are_series_of_their_own_and_the_order_of_entry_does_not_matter():
    ends = set()
    for order in (("west", "east"), ("east", "west")):
        drive = Drive(yard(**WITHOUT))
        for spot in order:
            read(drive, T0 + HOUR, "p1", {"west": 171, "east": 120}[spot], spot=spot, entered=T0 + HOUR + MIN)
        assert drive.state_of("p1/too-hot") == "unacknowledged"
        read(drive, T0 + 2 * HOUR, "p1", 120, spot="east")
        assert drive.state_of("p1/too-hot") == "unacknowledged", "only its own spot ends it"
        read(drive, T0 + 3 * HOUR, "p1", 121, spot="west")
        ends.add(drive.state_of("p1/too-hot"))
    assert ends == {"returned unacknowledged"}


def test_several_spots_of_one_event_are_all_taken():
    drive = Drive(yard(**WITHOUT))
    rows = [[T0, f"hand:b1:{spot}", 20_000_000 + n, "Cel"] for n, spot in enumerate(("left", "right"))]
    drive.feed(T0, "readings", {"rows": rows, "ahead": [], "by": "Ann"})
    assert {one.spot for one in drive.engine.state.hands.values()} == {"left", "right"}
    assert {one.by for one in drive.engine.state.hands.values()} == {"Ann"}


def test_it_never_ends_what_a_probe_raised():
    drive = Drive(yard(probes={"b1-t": bedding("b1"), "b1-u": bedding("b1"), "p1-a": core("p1")}))
    for at in (T0, T0 + 20 * MIN):
        drive.read(at, b1_t=33, b1_u=33, p1_a=78)
    assert drive.state_of("b1/worms-in-danger") == drive.state_of("p1/too-hot") == "unacknowledged"
    read(drive, T0 + 21 * MIN, "b1", 75)
    read(drive, T0 + 21 * MIN, "p1", 120)
    drive.read(T0 + 30 * MIN, b1_t=33, b1_u=33, p1_a=78)
    assert drive.state_of("b1/worms-in-danger") == drive.state_of("p1/too-hot") == "unacknowledged"
    for at in (T0 + 40 * MIN, T0 + 50 * MIN):
        drive.read(at, b1_t=24, b1_u=24, p1_a=60)
    assert "returned" in drive.state_of("b1/worms-in-danger")
    assert "returned" in drive.state_of("p1/too-hot")


def test_a_probe_does_not_end_what_a_hand_raised():
    drive = Drive(yard(probes={"b1-t": bedding("b1")}))
    drive.read(T0, b1_t=24)
    read(drive, T0 + MIN, "b1", 97)
    drive.read(T0 + 10 * MIN, b1_t=24)
    assert drive.state_of("b1/worms-in-danger") == "unacknowledged"
    read(drive, T0 + 2 * HOUR, "b1", 75)
    assert "returned" in drive.state_of("b1/worms-in-danger")


def test_a_value_is_held_and_then_the_bin_is_unknown_but_no_alarm_ends_by_that():
    drive = Drive(yard(**WITHOUT))  # T0 is in November: seven days
    read(drive, T0, "b1", 70)
    read(drive, T0, "b2", 97)
    drive.advance(T0 + 7 * DAY - 1)
    assert drive.engine.state.bins["b1"].thermal.value == "comfort"
    drive.advance(T0 + 7 * DAY)
    assert drive.engine.state.bins["b1"].thermal.value == "unknown"
    assert drive.state_of("b2/worms-in-danger") == "unacknowledged"
    assert drive.alarms("silent") == drive.alarms("broken") == []


def test_it_is_held_three_days_in_summer():
    summer = 1_785_542_400_000  # 2026-08-01T00:00:00Z, which is July in New York
    drive = Drive(yard(**WITHOUT), at=summer - HOUR)
    read(drive, summer, "b1", 70)
    drive.advance(summer + 3 * DAY - 1)
    assert drive.engine.state.bins["b1"].thermal.value == "comfort"
    drive.advance(summer + 3 * DAY)
    assert drive.engine.state.bins["b1"].thermal.value == "unknown"


def taken_back(drive, at, time, series):
    return drive.feed(
        at, "correction", {"of": 1, "work": None, "by": "Ann", "reading": {"time": time, "probe": series}}
    )


@pytest.mark.parametrize(("place", "fahrenheit", "alarm"), [("p1", 185, "fire"), ("b1", 97, "worms-in-danger")])
def test_taking_one_back_ends_its_alarm_and_tells_everybody_who_got_it(place, fahrenheit, alarm):
    drive = Drive(yard(**WITHOUT))
    read(drive, T0, place, 100 if place == "p1" else 70)
    read(drive, T0 + HOUR, place, fahrenheit)
    before = len(drive.effects)
    taken_back(drive, T0 + HOUR + 5 * MIN, T0 + HOUR, f"hand:{place}")
    found = drive.effects[before:]
    moves = [(e.draft.axis, e.draft.after, e.draft.reason) for e in found if e.draft.kind.value == "alarm"]
    assert moves[0] == (alarm, "returned unacknowledged", "record changed")
    assert [e.draft.after for e in found if e.draft.kind.value == "notice" and "mistyped" in e.draft.text] == ["ann"]
    assert drive.engine.state.hands[f"hand:{place}"].time == T0, "the one before counts again"


@pytest.mark.parametrize("place", ["p1", "p2"])
def test_taking_back_the_only_one_leaves_no_rule_running(place):
    drive = Drive(yard(**WITHOUT))
    read(drive, T0 + HOUR, place, 185)
    assert drive.run(place).rule.value == "running"
    taken_back(drive, T0 + 2 * HOUR, T0 + HOUR, f"hand:{place}")
    if place == "p1":
        assert drive.run(place).rule.value == "not begun"
    else:
        assert place not in drive.engine.state.batches.lying, "nobody built it: only that reading had begun it"
    rules = [(e.draft.after, e.draft.reason) for e in drive.effects if e.draft.kind.value == "rule"]
    assert rules[-1] == ("not begun", "record changed")


def test_taking_one_back_tells_also_of_an_alarm_of_less_urgency():
    drive = Drive(yard(**WITHOUT))
    read(drive, T0, "p1", 165)
    drive.advance(T0 + 6 * HOUR)
    assert drive.rings("hot")
    taken_back(drive, T0 + 7 * HOUR, T0, "hand:p1")
    assert told(drive, "mistyped")
    assert "hand:p1" not in drive.engine.state.hands


def test_taking_one_back_leaves_what_the_one_before_says():
    drive = Drive(yard(**WITHOUT))
    read(drive, T0, "p1", 186)
    read(drive, T0 + MIN, "p1", 196)
    before = len(drive.effects)
    taken_back(drive, T0 + 5 * MIN, T0 + MIN, "hand:p1")
    assert [e for e in drive.effects[before:] if e.draft.kind.value == "alarm"] == []
    assert drive.state_of("p1/fire") == "unacknowledged"


def test_taking_back_one_that_never_rang_tells_nothing():
    drive = Drive(yard(**WITHOUT))
    read(drive, T0, "p1", 185, entered=T0 + 13 * HOUR)
    before = len(drive.effects)
    taken_back(drive, T0 + 14 * HOUR, T0, "hand:p1")
    assert [e for e in drive.effects[before:] if e.draft.kind.value in ("alarm", "notice")] == []


def test_taking_one_back_tells_also_who_put_it_off():
    drive = Drive(yard(**WITHOUT))
    read(drive, T0, "b1", 97)
    drive.answer(T0 + MIN, "b1/worms-in-danger", "put off", until=T0 + 8 * HOUR)
    taken_back(drive, T0 + 10 * MIN, T0, "hand:b1")
    assert drive.state_of("b1/worms-in-danger") == "normal"
    assert len(told(drive, "taken back, mistyped")) == 1
    drive.advance(T0 + 10 * HOUR)
    assert len(told(drive, "WORMS IN DANGER")) == 1


@pytest.mark.parametrize("mended", ["undone", "bedded before"])
def test_a_bin_that_was_not_empty_after_all_rings_by_what_was_read_in_it(mended):
    drive = Drive(yard(**WITHOUT))
    if mended == "undone":
        read(drive, T0 + HOUR, "b1", 97)
        drive.work(T0 + 2 * HOUR, "b1", "emptied")
        of = drive.engine.last
        assert drive.state_of("b1/worms-in-danger") == "returned unacknowledged"
        drive.feed(T0 + 3 * HOUR, "correction", {"of": of, "row": 0, "work": None, "by": "Ann"})
    else:
        drive.work(T0, "b1", "emptied")
        read(drive, T0 + 2 * HOUR, "b1", 97)
        assert drive.rings("worms-in-danger") == []
        drive.work(T0 + HOUR, "b1", "bedded", entered=T0 + 3 * HOUR)
    assert drive.state_of("b1/worms-in-danger") == "unacknowledged"


def test_what_was_read_of_a_bed_says_nothing_of_the_next_one():
    drive = Drive(yard(**WITHOUT))
    read(drive, T0, "b1", 97)
    drive.work(T0 + HOUR, "b1", "emptied")
    drive.work(T0 + 2 * HOUR, "b1", "bedded")
    drive.advance(T0 + 3 * HOUR)
    assert drive.state_of("b1/worms-in-danger") == "returned unacknowledged"


def test_a_value_that_is_held_no_longer_is_told_as_read_then():
    drive = Drive(yard(**WITHOUT))
    read(drive, T0, "b2", 97)
    drive.advance(T0 + 8 * DAY)
    words = drive.engine.words("b2/worms-in-danger", T0 + 8 * DAY).short
    assert "nobody has read it since" in words
    assert "probes" not in words


def test_a_heap_read_by_hand_is_told_by_its_newest_round_and_of_no_probes():
    drive = Drive(yard(**WITHOUT))
    for day in range(1, 8):
        read(drive, T0 + day * DAY, "p1", 110 if day == 1 else 145 - day)
    words = drive.engine.words("p1/turning-due", T0 + 9 * DAY).short
    assert "probes" not in words
    assert "now" not in words
    assert "58.9 °C by hand" in words, "138 °F, the newest, not what it was when it rang"
    (held,) = drive.digest_lines("at temperature throughout")
    assert "by hand" in held
    assert "probes" not in held
    heard = {e.draft.axis for e in drive.notices("at temperature throughout")}
    assert heard <= {"digest"}, "nobody must act on it"


def test_a_heap_whose_newest_round_is_cold_is_not_told_to_be_holding():
    drive = Drive(yard(**WITHOUT))
    read(drive, T0 + HOUR, "p1", 150)
    read(drive, T0 + 24 * HOUR, "p1", 104)
    assert drive.digest_lines("at temperature throughout") == []


def test_a_probe_far_from_what_was_read_asks_for_a_look():
    drive = Drive(yard(probes={"p1-a": core("p1"), "p1-b": core("p1")}))
    drive.read(T0, p1_a=40, p1_b=50)
    read(drive, T0 + MIN, "p1", 131)  # 55 °C
    assert told(drive, "but p1-b shows") == []
    read(drive, T0 + 2 * MIN, "p1", 131.5)
    assert len(told(drive, "but p1-b shows")) == 1


def test_what_nobody_can_read_counts_for_nothing():
    drive = Drive(yard(**WITHOUT))
    read(drive, T0, "p1", 573)
    assert drive.rings("fire") == []
    assert [(one.flag.value, one.reason.value) for one in drive.verdicts] == [(4, "outside the measurable range")]


def test_what_was_read_of_a_heap_says_nothing_of_the_next_one():
    drive = Drive(yard(**WITHOUT))
    read(drive, T0 + HOUR, "p1", 171)
    drive.work(T0 + 2 * HOUR, "p1", "emptied")
    drive.work(T0 + 3 * HOUR, "p1", "built")
    read(drive, T0 + 4 * HOUR, "p1", 70, spot="west")
    assert "returned" in drive.state_of("p1/too-hot") or drive.state_of("p1/too-hot") == "normal"


def test_both_doors_say_the_same_around_a_hand_reading():
    drive = Recorder(yard())
    for step in range(400):
        at = T0 + step * 10 * MIN
        drive.read(at, p1_a=50 + step % 7, p1_b=50, b1_t=20 + step % 3, b1_u=21, b1_m=70, b2_t=20, p2_a=45, air=5)
        if step in (100, 250):
            read(drive, at + MIN, "p1", 175)
            read(drive, at + 2 * MIN, "b1", 96, spot="left")
        if step == 110:
            read(drive, at + MIN, "p1", 130)
            read(drive, at + 2 * MIN, "b1", 70, spot="left")
    same(drive, T0 + 10 * DAY)


def test_the_limits_are_settings():
    assert PileThresholds().hand_gap_ms == 26 * HOUR
    assert (BinThresholds().hand_gap_ms, BinThresholds().hand_gap_summer_ms) == (7 * DAY, 3 * DAY)


@pytest.mark.parametrize("answer", ["seen", "put off"])
def test_a_mistake_is_told_at_once_to_whoever_has_seen_it_or_put_it_off(answer):
    drive = Drive(yard(**WITHOUT))
    read(drive, T0 + HOUR, "b1", 97)
    until = {"until": T0 + 4 * HOUR} if answer == "put off" else {}
    drive.feed(T0 + HOUR + MIN, "answer", {"alarm": "b1/worms-in-danger", "answer": answer, "by": "Ann", **until})
    found = taken_back(drive, T0 + HOUR + 2 * MIN, T0 + HOUR, "hand:b1")
    assert drive.state_of("b1/worms-in-danger") == "normal"
    assert told(drive, "mistyped"), found


@pytest.mark.parametrize(
    ("place", "hot", "cool", "alarm"), [("p1", 185, 140, "fire"), ("b1", 97, 70, "worms-in-danger")]
)
def test_a_reading_that_may_be_of_another_spot_ends_no_danger(place, hot, cool, alarm):
    drive = Drive(yard(**WITHOUT))
    read(drive, T0 + HOUR, place, hot)
    read(drive, T0 + HOUR + MIN, place, cool, by="Pat")
    assert drive.state_of(f"{place}/{alarm}") == "unacknowledged"
    # Read again after that hour, it is what counts; or taken back, the later one does.
    other = Drive(yard(**WITHOUT))
    read(other, T0 + HOUR, place, hot)
    read(other, T0 + HOUR + MIN, place, cool, by="Pat")
    taken_back(other, T0 + HOUR + 2 * MIN, T0 + HOUR, f"hand:{place}")
    assert other.state_of(f"{place}/{alarm}") == "returned unacknowledged"
    assert other.engine.state.hands[f"hand:{place}"].time == T0 + HOUR + MIN
    read(drive, T0 + 2 * HOUR + 2 * MIN, place, cool)
    assert drive.state_of(f"{place}/{alarm}") == "returned unacknowledged"


def test_a_frost_is_not_ended_by_a_warmer_reading_of_no_named_spot():
    drive = Drive(yard(**WITHOUT))
    read(drive, T0 + HOUR, "b1", 38)
    read(drive, T0 + HOUR + MIN, "b1", 60)
    assert drive.state_of("b1/freezing") == "unacknowledged"
    named = Drive(yard(**WITHOUT))
    read(named, T0 + HOUR, "b1", 38, spot="west")
    read(named, T0 + HOUR + MIN, "b1", 60, spot="west")
    assert named.state_of("b1/freezing") == "returned unacknowledged"
