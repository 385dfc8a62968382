"""A place that is empty by the log and reads warm is not called empty: it is not known how it is, and people are asked."""

import pytest
from engine_both_doors import Recorder, same
from engine_yard import DAY, HOUR, MIN, T0, air, bedding, core, yard

from monitor.model.settings import Bin, Contact, Pile

PROBES = {"air": air(), "p1-a": core("p1"), "p1-b": core("p1"), "b1-t": bedding("b1")}


def drive_of(**more):
    piles = {"p1": Pile(name="Bay 1", built=T0), "p2": Pile(name="Bay 2")}
    return Recorder(yard(piles=piles, bins={"b1": Bin(name="Sunny bin")}, probes=PROBES, **more))


def emptied(celsius, air_celsius=15):
    drive = drive_of()
    drive.hold(T0 + MIN, T0 + HOUR, p1_a=60, p1_b=60, air=air_celsius)
    drive.work(T0 + HOUR + MIN, "p1", "emptied")
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 30 * HOUR, p1_a=celsius, p1_b=20, air=air_celsius)
    return drive


def asked(drive, place="p1"):
    return drive.engine.empty_yet_warm(place, drive.engine.last)


def watch(drive, place="p1"):
    return next(
        (one.by.value, one.known, one.why) for one in drive.engine.watched(drive.engine.last) if one.place == place
    )


def digests(drive, words):
    return [e for e in drive.notices(words) if e.draft.axis == "digest"]


def test_probes_that_read_hot_contradict_an_emptying():
    drive = emptied(65)
    assert asked(drive) == (
        "Bay 1: empty by the log, but p1-a reads 65 °C: log the heap as built, or the probe as taken out"
    )
    assert watch(drive) == ("probes", False, "not empty")
    words = drive.engine.watched_words(drive.engine.last)
    assert words.startswith(
        "2 places watched by probes, 1 empty; not known now (Bay 1: empty by the log, but something"
    )
    assert digests(drive, "empty by the log, but p1-a reads 65 °C")
    assert drive.rings("too-hot") == []
    drive.work(T0 + 31 * HOUR, "p1", "built")
    assert asked(drive) == ""
    drive.advance(T0 + 3 * DAY)
    assert not [e for e in digests(drive, "empty by the log, but") if e.at > T0 + 31 * HOUR + DAY]
    same(drive, T0 + 4 * DAY)


def test_what_is_no_warmer_than_the_sun_makes_the_air_asks_nothing():
    for celsius, air_celsius in ((35, 15), (44, 38), (15, 15)):
        drive = emptied(celsius, air_celsius)
        assert asked(drive) == ""
        assert watch(drive) == ("empty", True, "")
        assert not digests(drive, "empty by the log, but")


def test_what_was_measured_before_it_was_emptied_or_right_after_says_nothing():
    drive = drive_of()
    drive.hold(T0 + MIN, T0 + HOUR, p1_a=60, p1_b=60, air=15)
    drive.work(T0 + HOUR + MIN, "p1", "emptied")
    drive.hold(T0 + HOUR + 10 * MIN, T0 + 2 * HOUR, p1_a=60, p1_b=60, air=15)
    assert asked(drive) == ""


def test_a_probe_that_is_out_or_silent_contradicts_nothing():
    drive = emptied(65)
    drive.advance(drive.engine.last + DAY)
    assert asked(drive) == ""
    drive.hold(drive.engine.last + MIN, drive.engine.last + HOUR, p1_a=65, p1_b=20, air=15)
    assert asked(drive)
    drive.work(drive.engine.last + MIN, "p1", "probe out", probe="p1-a")
    assert asked(drive) == ""


def test_a_fire_of_readings_that_wait_for_the_clock_says_that_nobody_knows_what_lies_there():
    drive = drive_of()
    drive.work(T0 + MIN, "p1", "emptied")
    for minutes in (5, 6):
        hot = [["p1-a", 86_000_000 + minutes * 62_500, "Cel", T0 + DAY + minutes * MIN]]
        drive.feed(T0 + minutes * MIN, "clock", {"state": "waiting", "hot": hot})
    assert drive.rings("fire") == [T0 + 6 * MIN]
    assert "Bay 1: empty by the log, but p1-a reads 86.4 °C" in asked(drive)
    assert watch(drive) == ("probes", False, "not empty")


def test_a_reading_by_hand_contradicts_it_too_in_piles_and_bins():
    drive = drive_of()
    drive.work(T0 + MIN, "p1", "emptied")
    drive.work(T0 + MIN, "b1", "emptied")
    for place, fahrenheit in (("p1", 150), ("b1", 97)):
        row = [T0 + 5 * HOUR, f"hand:{place}", fahrenheit * 1_000_000, "[degF]"]
        drive.feed(T0 + 5 * HOUR, "readings", {"rows": [row], "ahead": [], "by": "Ann"})
    assert "65.6 °C was read by hand" in asked(drive)
    assert "36 °C was read by hand" in asked(drive, "b1")
    assert watch(drive, "b1") == ("hand", False, "not empty")
    same(drive, T0 + 2 * DAY)


def test_a_digest_that_waits_for_the_morning_says_what_an_empty_place_reads_by_then_in_columns_too():
    """The digest of 07:00 waits until 09:00, and meanwhile the probe of an empty bay grows warmer, cools or falls silent."""
    ann = Contact(name="Ann", channels=("wire",), quiet_start_minute=21 * 60, quiet_end_minute=9 * 60)
    for later in (70, 20, None):
        drive = drive_of(contacts={"ann": ann})
        drive.hold(T0 + MIN, T0 + HOUR, p1_a=60, p1_b=60, b1_t=20, air=15)
        drive.work(T0 + HOUR + MIN, "p1", "emptied")
        more = {} if later is None else {"p1_a": later}
        drive.hold(T0 + HOUR + 10 * MIN, T0 + 12 * HOUR + 20 * MIN, p1_a=65, p1_b=20, b1_t=20, air=15)
        drive.hold(T0 + 12 * HOUR + 30 * MIN, T0 + 40 * HOUR, p1_b=20, b1_t=20, air=15, **more)
        same(drive, T0 + 2 * DAY)
        assert [e for e in drive.effects if e.draft.axis == "digest"]


@pytest.mark.parametrize(
    ("celsius", "air_celsius", "asks"),
    [(40, 15, True), (39.9375, 15, False), (40, 30, True), (40, 30.0625, False), (45, 35, True), (45, None, True)],
)
def test_warm_is_from_40_and_from_10_above_the_air_on(celsius, air_celsius, asks):
    drive = drive_of()
    there = {} if air_celsius is None else {"air": air_celsius}
    drive.read(T0 + MIN, p1_a=celsius, p1_b=20, **there)
    drive.work(T0 + 2 * MIN, "p1", "emptied")
    drive.hold(T0 + 2 * HOUR, T0 + 3 * HOUR, p1_a=celsius, p1_b=20, **there)
    assert bool(asked(drive)) is asks


@pytest.mark.parametrize(("celsius", "asks"), [(29.5, True), (29.4375, False)])
def test_in_a_bin_warm_is_from_its_limit_of_overheating_on(celsius, asks):
    drive = drive_of()
    drive.work(T0 + MIN, "b1", "emptied")
    drive.hold(T0 + 2 * HOUR, T0 + 3 * HOUR, b1_t=celsius)
    assert bool(asked(drive, "b1")) is asks


@pytest.mark.parametrize(("after", "asks"), [(2 * HOUR - 1, False), (2 * HOUR, True)])
def test_what_was_measured_two_hours_after_the_last_emptying_counts(after, asks):
    drive = drive_of()
    drive.work(T0 + HOUR, "p1", "emptied")
    drive.work(T0 + 10 * HOUR, "p1", "built")
    drive.work(T0 + 20 * HOUR, "p1", "emptied")
    drive.read(T0 + 20 * HOUR + after, p1_a=60)
    assert bool(asked(drive)) is asks


def test_of_several_the_hottest_is_asked_about():
    drive = drive_of()
    drive.work(T0 + MIN, "p1", "emptied")
    drive.hold(T0 + 3 * HOUR, T0 + 4 * HOUR, p1_a=50, p1_b=55)
    assert "p1-b reads 55 °C" in asked(drive)
