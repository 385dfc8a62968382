"""`log reading` and `log round`: spots, units as people type them, and the answer in the same breath."""

import json

import pytest
from click.testing import CliRunner
from typed_command import call, yard_of

from monitor.app.command import heaptender
from monitor.app.entries.hand_log import hand_log
from monitor.journal import open_reader
from monitor.model.errors import MisuseError

YARD = """
[site]
name = "Test yard"
time_zone = "America/New_York"
temperature_unit = "degF"
data = "data"
[piles.p1]
name = "Bay 1"
spots = ["west", "middle", "east", "top"]
[piles.p2]
name = "Bay 2"
[bins.b1]
name = "Wall bin"
[bins.b2]
name = "Shed bin"
[probes.b2-t]
place = "b2"
role = "bedding"
"""


yard = yard_of(YARD)


def reads(yard, place):
    with open_reader(yard / "data") as store:
        return [
            (one.spot, one.micro, one.unit, one.by, one.thermometer, one.depth_mm) for one in hand_log(store, place)
        ]


@pytest.mark.parametrize(
    ("place", "value", "said"),
    [
        ("p1", "185", "185 °F is fire danger (limit 180 °F): keep people off."),
        ("p1", "172F", "172 °F is too hot (limit 170 °F)"),
        ("p1", "165", "165 °F is hot if it stays beyond 160 °F for 6 h or longer"),
        ("b1", "97", "97 °F puts the worms in danger (limit 95 °F)"),
        ("b1", "92", "92 °F puts the worms in danger if it stays beyond 90 °F for 15 min or longer"),
        ("b1", "38", "38 °F is close to freezing (limit 39 °F)"),
        ("b1", "14.1", "14.1 °F is below freezing (limit 39 °F)"),
    ],
)
def test_the_answer_says_in_the_same_breath_what_it_means(yard, place, value, said):
    # What can be and hardly is, such as a bin frozen through, is asked about first.
    told = call(yard, "log", "reading", place, value, "--by", "Ann", "--again")
    assert told.startswith("Written down as 1: ")
    assert said in told


def test_without_any_daemon_it_rings_and_status_says_so(yard):
    call(yard, "log", "reading", "p1", "185")
    call(yard, "log", "reading", "b1", "97")
    text = call(yard, "status", code=1)
    assert "Alarm p1/fire" in text
    assert "Alarm b1/worms-in-danger" in text
    assert "No alarm." not in text


@pytest.mark.parametrize(
    ("typed", "micro", "unit"),
    [
        (("23C",), 23_000_000, "Cel"),
        (("23", "C"), 23_000_000, "Cel"),
        (("55,5 °C",), 55_500_000, "Cel"),
        (("131°F",), 131_000_000, "[degF]"),
        (("131",), 131_000_000, "[degF]"),
        (("-5C",), -5_000_000, "Cel"),
    ],
)
def test_units_with_or_without_a_blank(yard, typed, micro, unit):
    call(yard, "log", "reading", "p1", *typed)
    assert reads(yard, "p1") == [("", micro, unit, "", "", None)]


def test_a_reading_has_a_spot_a_depth_and_a_thermometer(yard):
    told = call(yard, "log", "reading", "p1", "141F", "--spot", "West", "--depth", "24in", "--with", "dial-2")
    assert "Bay 1 141 °F by hand at west" in told
    assert reads(yard, "p1") == [("west", 141_000_000, "[degF]", "", "dial-2", 610)]


def test_a_round_takes_the_spots_in_their_order_and_names_those_not_read(yard):
    told = call(yard, "log", "round", "p1", "141", "138", "-", "129F", "--by", "Ann")
    assert "141 °F at west, 138 °F at middle, 129 °F at top by hand" in told
    assert "Not read: east." in told
    assert "in the order" not in told, "the dash says which"
    assert [one[:2] for one in reads(yard, "p1")] == [
        ("middle", 138_000_000), ("top", 129_000_000), ("west", 141_000_000),
    ]  # fmt: skip
    assert {one[3] for one in reads(yard, "p1")} == {"Ann"}


def test_a_round_of_a_place_without_named_spots_numbers_them(yard):
    call(yard, "log", "round", "p2", "60", "61", "C")
    assert [one[:3] for one in reads(yard, "p2")] == [("1", 60_000_000, "Cel"), ("2", 61_000_000, "Cel")]


def test_the_answer_to_a_round_speaks_of_the_worst(yard):
    told = call(yard, "log", "round", "p1", "141", "186", "171", "165")
    assert "186 °F is fire danger" in told


def test_several_spots_at_one_time_do_not_conflict(yard):
    for spot, value in (("east", "140"), ("west", "152")):
        call(yard, "log", "reading", "p1", value, "--spot", spot, "--at", "20 min ago")
    assert len(reads(yard, "p1")) == 2


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("reading", "p1", "hot"), '"hot" is no temperature; write a number with or without its unit'),
        (("reading", "p1"), "A hand reading is a number and a unit"),
        (("reading", "p1", "900"), "(-76 °F to 572 °F). Is the unit right?"),
        (("reading", "b1", "70%"), "70 % is moisture, and by hand only temperatures are taken. Squeeze a handful"),
        (("reading", "b1", "3kg"), '"kg" is no unit of temperature here'),
        (
            ("reading", "p1", "131", "--spot", "north"),
            'Bay 1 has no spot "north"; its spots are west, middle, east, top.',
        ),
        (("reading", "p1", "131", "--depth", "24"), "--depth:"),
        (("round", "p1", "1", "2", "3", "4", "5"), "5 values, but Bay 1 has the spots west, middle, east, top."),
        (("round", "p1"), "A round is the values of the spots in their order"),
        (("round", "p1", "131", "--spot", "west"), '--spot does not go with "round"'),
        (("turned", "p1", "--spot", "west"), "--spot does not go with"),
        (("reading", "p1", "--nonsense"), "--nonsense"),
        (("note", "p1"), "the note is empty; write what you saw."),
        (("note", "p1", "--note", "  "), "the note is empty; write what you saw."),
        (("put-off", "p1/fire", "--until", "in 3 h"), "it can be put off for 2 h at most."),
        (("put-off", "p1/fire"), "A put-off needs its end"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_a_sentence(yard, words, said):
    run = CliRunner().invoke(heaptender, ["log", *words, "--config", str(yard / "heaptender.toml")])
    told = str(run.exception) if isinstance(run.exception, MisuseError) else run.output
    assert said in told
    assert run.exit_code != 0


def test_a_note_without_a_word_is_refused_in_a_file_too(yard, tmp_path):
    log = tmp_path / "work.csv"
    log.write_text("time,place,kind,note\n2026-10-01T09:00:00Z,p1,note,\n", encoding="utf-8")
    run = CliRunner().invoke(heaptender, ["import", str(log), "--config", str(yard / "heaptender.toml")])
    told = str(run.exception) if isinstance(run.exception, MisuseError) else run.output
    assert "the note is empty; write what you saw. Nothing was taken in." in told
    assert run.exit_code != 0


def test_a_round_is_taken_back_whole_and_its_alarm_is_over(yard):
    call(yard, "log", "round", "p1", "186", "141")
    told = call(yard, "log", "undo", "p1")
    assert "taken back: Bay 1 141 °F at middle, 186 °F at west by hand" in told
    assert reads(yard, "p1") == []
    assert "p1/fire: new" not in call(yard, "status", code=1)
    record = [json.loads(line) for line in call(yard, "export", "effects").splitlines()]
    assert "mistyped" in record[-1]["text"]


def test_what_was_taken_back_can_be_written_anew_for_the_same_moment(yard):
    call(yard, "log", "reading", "p1", "311C", "--at", "20 min ago", code=2)
    call(yard, "log", "reading", "p1", "31", "--at", "2026-11-01T09:00:00Z", "--again")
    call(yard, "log", "undo", "p1")
    assert "Written down" in call(yard, "log", "reading", "p1", "131", "--at", "2026-11-01T09:00:00Z", "--again")
    assert [one[1] for one in reads(yard, "p1")] == [131_000_000]


def test_a_probe_that_shows_something_else_is_named(yard):
    import time

    stamp = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(time.time() - 60))
    from monitor.app.loop.asking import ask
    from monitor.configuration import load
    from monitor.model.events import EventKind
    from monitor.model.times import parse_time

    row = [parse_time(stamp), "b2-t", 20_000_000, "Cel"]
    ask(load(yard / "heaptender.toml", {}), EventKind.READINGS, {"rows": [row], "ahead": []})
    assert "b2-t shows 68 °F: look at the probe." in call(yard, "log", "reading", "b2", "81")
    assert "look at the probe" not in call(yard, "log", "reading", "b2", "70")


def test_status_says_who_read_what_and_when(yard):
    call(yard, "log", "built", "p1", "--at", "5 h ago")
    call(yard, "log", "round", "p1", "150", "145", "151", "149", "--by", "Ann", "--at", "3 h ago")
    call(yard, "log", "round", "b1", "70", "72", "--at", "20 min ago")
    call(yard, "log", "reading", "b2", "70")
    text = call(yard, "status", code=1)
    assert "Last read 145 °F by hand, Ann, 3 h ago, coldest of 4." in text
    assert "Wall bin: comfort, moisture unknown. Last read 72 °F by hand, 20 min ago, hottest of 2." in text
    assert "Shed bin: comfort, moisture unknown. Last read 70 °F by hand, " in text
    told = json.loads(call(yard, "status", "--json", code=1))["piles"][0]["by_hand"]
    assert (told["coldest"], told["spots"], told["by"], told["counts"]) == (62.778, 4, "Ann", True)
    call(yard, "log", "reading", "b1", "70", "--spot", "3", "--at", "2026-01-01T12:00:00Z", "--again")
    assert "hottest of 2" in call(yard, "status", code=1), "an older one changes nothing"


def test_what_was_read_by_hand_goes_out_and_comes_in_with_who_read_it(yard, tmp_path):
    call(
        yard,
        "log",
        "round",
        "p1",
        "150",
        "145",
        "--by",
        "Ann",
        "--with",
        "dial-2",
        "--depth",
        "60 cm",
        "--at",
        "2026-11-01T09:00:00Z",
        "--again",
    )
    out = call(yard, "export", "readings")
    assert out.splitlines()[0].endswith("quality,spot,depth,by,with")
    assert out.splitlines()[1].endswith(",2,middle,600 mm,Ann,dial-2")
    assert call(yard, "export", "readings", "--place", "p1") == out
    assert len(call(yard, "export", "readings", "--place", "b1").splitlines()) == 1
    other = tmp_path / "other"
    other.mkdir()
    (other / "heaptender.toml").write_text(YARD)
    (other / "r.csv").write_text(out)
    assert "Taken in: 2 readings" in call(other, "import", str(other / "r.csv"))
    assert reads(other, "p1") == reads(yard, "p1")


def test_a_spreadsheet_names_spot_and_person_in_columns_of_their_own(yard):
    text = "time,probe,quantity,value,unit,spot,by\n2026-11-01T09:00:00Z,hand:p1,temperature,60,Cel,west,Ann\n"
    text += (
        "2026-11-01T09:00:00Z,hand:p1,temperature,61,Cel,east,Ann\n2026-11-02T09:00:00Z,hand:p1,temperature,61,Cel,,\n"
    )
    (yard / "r.csv").write_text(text)
    call(yard, "import", str(yard / "r.csv"))
    assert [one[:2] + one[3:4] for one in reads(yard, "p1")] == [
        ("east", 61_000_000, "Ann"), ("west", 60_000_000, "Ann"), ("", 61_000_000, ""),
    ]  # fmt: skip


def test_a_filled_by_makes_a_series_read_by_hand(yard):
    lines = ["time,probe,quantity,value,unit,by"]
    lines += [f"2026-10-{day:02}T13:00:00Z,dial,temperature,145,[degF],Ann" for day in range(1, 8)]
    (yard / "r.csv").write_text("\n".join(lines) + "\n")
    words = ("--readings", str(yard / "r.csv"), "--rule", "backyard-130f-3d", "--pile", "p1", "--json")
    told = json.loads(call(yard, "certify", *words))
    assert (told["verdict"], told["assumed_s"], told["unproven_s"]) == ("met", 6 * 86400, 0)
    assert json.loads(call(yard, "certify", *words, "--hand-gap", "20h", code=1))["assumed_s"] == 0


def test_a_reading_in_a_bin_that_is_empty_by_the_log_says_that_nobody_is_told(yard):
    call(yard, "log", "emptied", "b1", "--at", "5 min ago")
    assert "By the log Wall bin is empty, so nobody is told: log what went into it" in call(
        yard, "log", "reading", "b1", "97"
    )
    call(yard, "log", "bedded", "b1")
    assert "By the log" not in call(yard, "log", "reading", "b1", "97")
    assert "Alarm b1/worms-in-danger: new" in call(yard, "status", code=1)


def test_what_cannot_be_is_refused_in_the_unit_that_was_typed(yard):
    assert call(yard, "log", "reading", "p1", "1450", code=2).startswith(
        "1450 °F is no temperature of a heap or bin (-76 °F to 572 °F)."
    )
    assert call(yard, "log", "reading", "p1", "301C", code=2).startswith(
        "301 °C is no temperature of a heap or bin (-60 °C to 300 °C)."
    )


def test_a_heap_hotter_than_any_record_believes_is_told_and_not_asked_about(yard):
    call(yard, "log", "reading", "p1", "145", "--spot", "west", "--at", "2 h ago")
    told = call(yard, "log", "reading", "p1", "250", "--spot", "west")
    assert "250 °F is fire danger (limit 180 °F): keep people off." in told
    assert "So hot a reading proves nothing. If the other unit was meant, take it back" in told


def test_a_slip_is_asked_about_and_taken_with_again(yard):
    call(yard, "log", "round", "p1", "145", "140", "--at", "2 h ago")
    asked = call(yard, "log", "round", "p1", "14.5", "138", code=1)
    assert "Bay 1 at west: 14.5 °F is 130.5 °F less than what was read last (145 °F, " in asked
    assert "Was 145 °F meant?" in asked
    assert len(reads(yard, "p1")) == 2, "nothing was written down"
    assert "Was 60 °C meant?" in call(yard, "log", "reading", "p1", "60", "--spot", "west", code=1)
    call(yard, "log", "reading", "p1", "60", "--spot", "west", "--again")
    assert len(reads(yard, "p1")) == 3


def test_the_answer_is_in_the_unit_of_the_site_and_keeps_what_was_typed(yard):
    assert "Bay 1 145.4 °F (63 °C as typed) by hand at west" in call(
        yard, "log", "reading", "p1", "63C", "--spot", "west"
    )
    assert "Bay 2 145 °F by hand" in call(yard, "log", "reading", "p2", "145", "--again")
    assert reads(yard, "p1")[0][1:3] == (63_000_000, "Cel"), "what was typed is kept"
    told = call(yard, "log", "round", "p1", "60C", "141", "--at", "2026-11-02T10:00:00Z", "--again")
    assert "140 °F (60 °C as typed) at west, 141 °F at middle by hand" in told


def test_a_round_with_a_value_too_few_says_how_its_values_were_taken(yard):
    told = call(yard, "log", "round", "p1", "141", "138", "129")
    assert (
        "The values were taken in the order of the spots; if another was not read, take this back and put - for it"
        in told
    )
