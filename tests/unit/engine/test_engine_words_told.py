"""The words of an alarm as it stands now: which limit since when, by whom it is said, and what nobody has read since."""

import pytest
from engine_yard import HOUR, MIN, T0, Drive, air, bedding, core, yard


def texts(drive, words):
    return [e.draft.text for e in drive.notices(words) if e.draft.axis != "digest"]


def read(drive, at, fahrenheit, spot=""):
    series = f"hand:p1:{spot}" if spot else "hand:p1"
    row = [at, series, round(fahrenheit * 1_000_000), "[degF]"]
    drive.feed(at, "readings", {"rows": [row], "ahead": [], "by": "Ann"})


def test_the_worse_limit_of_freezing_is_told_since_it_was_passed_itself():
    drive = Drive(yard(probes={"b1-t": bedding("b1")}))
    for n in range(42):
        drive.read(T0 + n * 10 * MIN, b1_t=7 - 0.1 * n)  # 6.1 °C at 20:30, 3.9 °C at 00:20 (5 h 20 min), local
    drive.advance(T0 + 7 * HOUR + 30 * MIN)
    near, worse, again = texts(drive, "close to freezing")
    assert "(limit 6.1 °C) at b1-t since 20:30" in near
    assert "(limit 3.9 °C) at b1-t since 00:20" in worse
    assert again.startswith("Still on after 2 h: "), "as long as the limit that it names"
    assert "since 00:20" in again


def test_back_between_its_two_limits_freezing_is_told_since_the_first():
    drive = Drive(yard(probes={"b1-t": bedding("b1")}))
    drive.hold(T0, T0 + HOUR, b1_t=5)
    drive.hold(T0 + 2 * HOUR, T0 + 3 * HOUR, b1_t=3)
    drive.read(T0 + 3 * HOUR + 10 * MIN, b1_t=5)
    words = drive.engine.words("b1/freezing", T0 + 3 * HOUR + 11 * MIN).short
    assert "(limit 6.1 °C) at b1-t since 19:00" in words


def test_each_limit_of_worms_in_danger_is_told_since_it_was_passed_itself():
    drive = Drive(yard(probes={"b1-t": bedding("b1"), "b1-u": bedding("b1")}))
    drive.hold(T0, T0 + HOUR, b1_t=33, b1_u=32.5)  # all above 32.2 °C
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 2 * HOUR, b1_t=36, b1_u=33)  # one above 35 °C
    words = drive.engine.words("b1/worms-in-danger", T0 + 2 * HOUR + MIN).short
    assert "hottest spot 36 °C (limit 35 °C) at b1-t" in words
    assert "since 20:10" in words
    drive.hold(T0 + 2 * HOUR + 10 * MIN, T0 + 3 * HOUR, b1_t=33, b1_u=32.5)
    words = drive.engine.words("b1/worms-in-danger", T0 + 3 * HOUR + MIN).short
    assert "coolest spot 32.5 °C (limit 32.2 °C) at b1-u" in words
    assert "since 19:00" in words
    drive.hold(T0 + 3 * HOUR + 10 * MIN, T0 + 4 * HOUR, b1_t=25, b1_u=25)
    assert "it began 19:00" in texts(drive, "worms in danger, over")[0], "the whole of it"


def test_fire_and_too_hot_are_each_told_since_their_own_limit():
    drive = Drive(yard(probes={"p1-a": core("p1"), "p1-b": core("p1")}))
    drive.hold(T0, T0 + HOUR, p1_a=78, p1_b=60)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 2 * HOUR, p1_a=83, p1_b=60)
    assert "since 20:10" in drive.engine.words("p1/fire", T0 + 2 * HOUR + MIN).short
    assert "since 19:00" in drive.engine.words("p1/too-hot", T0 + 2 * HOUR + MIN).short


def test_one_lost_probe_makes_nothing_unknown_that_another_still_says():
    drive = Drive(yard(probes={"p1-a": core("p1"), "p1-b": core("p1"), "air": air()}))
    drive.hold(T0, T0 + HOUR, p1_a=79, p1_b=77.5, air=20)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 5 * HOUR, p1_b=77.5, air=20)
    assert texts(drive, "p1-a stopped at 79 °C")
    repeats = texts(drive, "too hot")[1:]
    assert len(repeats) == 2
    for text in repeats:
        assert text.startswith("Still on after ")
        assert "77.5 °C (limit 76.7 °C) at p1-b" in text


def test_what_only_the_lost_probe_said_is_not_known_to_be_over():
    drive = Drive(yard(probes={"p1-a": core("p1"), "p1-b": core("p1"), "air": air()}))
    drive.hold(T0, T0 + HOUR, p1_a=79, p1_b=70, air=20)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 3 * HOUR, p1_b=70, air=20)
    (repeat,) = texts(drive, "too hot")[1:]
    assert repeat.startswith("Not known to be over after 2 h: ")
    assert "79 °C (limit 76.7 °C) at p1-a since 19:00, as last heard 20:00: p1-a is silent" in repeat


def test_one_silent_probe_of_a_bin_makes_nothing_unknown_that_another_still_says():
    drive = Drive(yard(probes={"b1-t": bedding("b1"), "b1-u": bedding("b1")}))
    drive.hold(T0, T0 + HOUR, b1_t=31.5, b1_u=30)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + HOUR + 50 * MIN, b1_u=30)
    drive.advance(T0 + 2 * HOUR + 5 * MIN)  # b1-t counts as silent from 21:00 on; b1-u has said nothing since
    message = drive.engine.words("b1/overheating", T0 + 2 * HOUR + 5 * MIN)
    assert "30 °C (limit 29.4 °C) at b1-u" in message.short
    assert message.known


@pytest.mark.parametrize("by", ["hand", "probe"])
def test_a_hot_heap_that_was_turned_is_told_to_be_read_again(by):
    """What was read before the turning does not hold any more, and is not over either: nobody knows."""
    drive = Drive(yard(probes={} if by == "hand" else {"p1-a": core("p1"), "p1-b": core("p1")}))
    if by == "hand":
        read(drive, T0 + HOUR, 172)
    else:
        drive.hold(T0, T0 + HOUR, p1_a=77.778, p1_b=70)
    drive.work(T0 + HOUR + 10 * MIN, "p1", "turned")
    drive.advance(T0 + 4 * HOUR)
    first, *repeats = texts(drive, "too hot")
    assert "Keep your hands out" in first
    assert repeats
    where = "by hand" if by == "hand" else "at p1-a"
    for text in repeats:
        assert text.startswith("Not known to be over after ")
        assert (
            f"too hot when last read, 77.8 °C (limit 76.7 °C) {where} at 20:00; turned at 20:10 and not read since"
            in text
        )
        assert "Read it by hand now with a long stem" in text
        assert "call the fire service" in text
        assert "thin layers" not in text
    assert drive.state_of("p1/too-hot") == "unacknowledged"
    if by == "hand":
        read(drive, T0 + 4 * HOUR + MIN, 173)
        words = drive.engine.words("p1/too-hot", T0 + 4 * HOUR + 2 * MIN)
        assert "turned" not in words.short
        assert words.known


def test_a_possible_fire_stays_a_fire_after_a_turning():
    drive = Drive(yard(probes={}))
    read(drive, T0 + HOUR, 185)
    drive.work(T0 + HOUR + 10 * MIN, "p1", "turned")
    drive.advance(T0 + 2 * HOUR)
    assert drive.state_of("p1/fire") == "unacknowledged"
    last = texts(drive, "FIRE DANGER")[-1]
    assert last.startswith("FIRE DANGER at Bay 1: 85 °C (limit 82.2 °C). Keep people off.")
    assert "turned at 20:10 and not read since" in last
    assert "(Not known to be over after" in last
