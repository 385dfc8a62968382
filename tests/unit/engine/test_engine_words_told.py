"""The words of an alarm as it stands now: which limit since when, by whom it is said, and what nobody has read since."""

import pytest
from engine_yard import DAY, HOUR, MIN, T0, Drive, air, bedding, core, yard

from monitor.engine.output.alarm_facts import words_for


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
    assert "6 °C since 20:30" in near
    assert "4 °C since 00:20" in worse
    assert "(Still on after 2 h; " in again, "as long as it is beyond the worse limit"
    assert "since 00:20" in again


def test_back_between_its_two_limits_freezing_is_told_since_the_first():
    drive = Drive(yard(probes={"b1-t": bedding("b1")}))
    drive.hold(T0, T0 + HOUR, b1_t=5)
    drive.hold(T0 + 2 * HOUR, T0 + 3 * HOUR, b1_t=3)
    drive.read(T0 + 3 * HOUR + 10 * MIN, b1_t=5)
    words = drive.engine.words("b1/freezing", T0 + 3 * HOUR + 11 * MIN).short
    assert "5 °C since 19:00" in words


def test_each_limit_of_worms_in_danger_is_told_since_it_was_passed_itself():
    drive = Drive(yard(probes={"b1-t": bedding("b1"), "b1-u": bedding("b1")}))
    drive.hold(T0, T0 + HOUR, b1_t=33, b1_u=32.5)  # all above 32.2 °C
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 2 * HOUR, b1_t=36, b1_u=33)  # one above 35 °C
    words = drive.engine.words("b1/worms-in-danger", T0 + 2 * HOUR + MIN).short
    assert "36 °C in its hottest spot, coolest 33 °C, since" in words
    assert "since 20:10" in words
    drive.hold(T0 + 2 * HOUR + 10 * MIN, T0 + 3 * HOUR, b1_t=33, b1_u=32.5)
    words = drive.engine.words("b1/worms-in-danger", T0 + 3 * HOUR + MIN).short
    assert "32 °C even in its coolest spot, hottest 33 °C, since" in words
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
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 6 * HOUR + MIN, p1_b=77.5, air=20)
    assert texts(drive, "a probe went dead at 79 °C")
    repeats = texts(drive, "too hot")[1:]
    assert len(repeats) == 2
    for text in repeats:
        assert "(Still on after " in text
        assert text.startswith("Bay 1: too hot, 77.5 °C since ")
        assert " (p1-b). " in text


def test_what_only_the_lost_probe_said_is_not_known_to_be_over():
    drive = Drive(yard(probes={"p1-a": core("p1"), "p1-b": core("p1"), "air": air()}))
    drive.hold(T0, T0 + HOUR, p1_a=79, p1_b=70, air=20)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 3 * HOUR, p1_b=70, air=20)
    (repeat,) = texts(drive, "too hot")[1:]
    assert "(Not known to be over after 2 h; nobody on it yet.)" in repeat
    assert "79 °C since 19:00, as last heard 20:00: p1-a is silent" in repeat


def test_one_silent_probe_of_a_bin_makes_nothing_unknown_that_another_still_says():
    drive = Drive(yard(probes={"b1-t": bedding("b1"), "b1-u": bedding("b1")}))
    drive.hold(T0, T0 + HOUR, b1_t=31.5, b1_u=30)
    drive.hold(T0 + HOUR + 10 * MIN, T0 + HOUR + 50 * MIN, b1_u=30)
    drive.advance(T0 + 2 * HOUR + 5 * MIN)  # b1-t counts as silent from 21:00 on; b1-u has said nothing since
    message = drive.engine.words("b1/overheating", T0 + 2 * HOUR + 5 * MIN)
    assert "30 °C since" in message.short
    assert message.short.endswith("(b1-u)")
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
    where = "by hand" if by == "hand" else "p1-a"
    for text in repeats:
        assert "(Not known to be over after " in text
        assert f"too hot when last read, 77.8 °C at 20:00; turned at 20:10 and not read since ({where})" in text
        assert "Read it again from upwind" in text
        assert "thin layers" not in text
    whole = drive.engine.words("p1/too-hot", T0 + 4 * HOUR).text
    assert "Read it by hand now with a long stem" in whole
    assert "call the fire service" in whole
    assert "thin layers" not in whole
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
    assert last.startswith(
        "FIRE DANGER at Bay 1: 85 °C since 20:00; turned at 20:10 and not read since. Keep people off."
    )
    assert "turned at 20:10 and not read since" in last
    assert "(Not known to be over after" in last


def test_what_a_heap_needs_is_told_with_the_number_of_its_probes_as_long_as_one_of_them_speaks():
    drive = Drive(yard(bins={}, probes={"p1-a": core("p1"), "p1-b": core("p1"), "air": air()}))
    drive.hold(T0, T0 + 5 * DAY, HOUR, p1_a=60, p1_b=59.5, air=10)

    def told():
        return words_for(drive.engine.core, drive.engine.state.alarms["p1/turning-due"]).text

    assert "59.5 °C now" in told()
    drive.hold(T0 + 5 * DAY + HOUR, T0 + 5 * DAY + 14 * HOUR, HOUR, p1_b=59.5, air=10)
    assert "silent since" not in told()
    drive.hold(T0 + 5 * DAY + 15 * HOUR, T0 + 6 * DAY + 4 * HOUR, HOUR, air=10)
    assert "59.5 °C at " in told()
    assert "silent since" in told()
