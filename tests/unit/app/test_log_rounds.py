"""`log rounds FILE`: a whole sheet at once; each line is taken or waits for itself, and the answer tells which."""

import csv
import io
import json

import pytest
from typed_command import ENTRIES, call, yard_of

yard = yard_of(ENTRIES.replace('name = "Bay 2"', 'name = "Bay 2"\nspots = ["west", "east"]'))
HEAD = "time,place,spot,value,squeeze,smell,by\n"


def rounds(yard, text, *more, code=0, head=HEAD):
    (yard / "sheet.csv").write_text(head + text)
    return call(yard, "log", "rounds", yard / "sheet.csv", *more, code=code)


@pytest.fixture
def built(yard):
    call(yard, "log", "built", "p2", "--at", "5 d ago")
    return yard


def test_the_empty_sheet_has_a_line_for_each_spot_and_says_nothing_when_sent(yard):
    printed = call(yard, "log", "rounds")
    rows = list(csv.DictReader(io.StringIO(printed)))
    assert [(row["place"], row["spot"]) for row in rows] == [
        ("p1", ""), ("p2", "west"), ("p2", "east"), ("p3", ""), ("b1", ""),
    ]  # fmt: skip
    assert "Nothing was read on" in rounds(yard, printed, head="", code=2)


def test_a_sheet_is_taken_with_its_own_times_and_readers(built):
    told = rounds(
        built,
        "yesterday 13:00,Bay 2,west,141,,,Ann\nyesterday 13:00,p2,east,138 °F,,,Ann\n"
        "yesterday 13:30,Wall bin,,72,4,Earthy,Ben\nyesterday 13:30,p3,,,,,\n",
    )
    assert "Written down as 2: Bay 2 141 °F at west, 138 °F at east by hand, " in told
    assert "Written down as 3: Wall bin 72 °F by hand, " in told
    assert "Written down as 4: Wall bin inspected: smells earthy, squeeze 4 " in told
    listed = call(built, "log", "list")
    assert listed.count("; Ann;") == 1, "the values of a place are one round"
    assert listed.count("; Ben;") == 2
    assert "Bay 3" not in listed, "a line left empty is no reading"


def test_lines_that_are_wrong_or_asked_about_wait_and_keep_no_other_back(built):
    rounds(built, "yesterday 13:00,p2,west,141,,,\n")
    text = "19:00,p2,west,60,,,\n19:00,p2,east,140,,,\n19:00,b1,,hot,9,,\n19:00,p9,,120,,,\n,b1,,70,,,\n19:00,p2,nrth,1,,,\n"
    text = text.replace("19:00", "yesterday 19:00")
    told = rounds(built, text, code=1)
    assert "Written down as 3: Bay 2 140 °F by hand at east" in told
    assert "Not written down: line 2, Bay 2 at west: " in told
    assert "60 °F is 81 °F less than what was read last" in told
    assert "Was 60 °C meant?" in told
    assert 'line 4, Wall bin: "hot" is no temperature' in told
    assert 'line 4, Wall bin: "9" says nothing of squeeze' in told
    assert 'line 5, p9: There is no pile or bin "p9".' in told
    assert "line 6, Wall bin: Without a time: fill in the column `time`" in told
    assert 'line 7, Bay 2 at nrth: Bay 2 has no spot "nrth"; its spots are west, east.' in told
    assert "5 lines wait." in told
    again = rounds(built, text, "--again", code=1)
    assert "Written down as 4: Bay 2 60 °F at west" in again
    assert call(built, "log", "list").count("140 °F at east") == 1
    assert "4 lines wait." in again


def test_a_sheet_that_is_sent_twice_is_once(built):
    text = "yesterday 13:00,p2,west,141,,,\nyesterday 13:00,b1,,72,4,,\n"
    rounds(built, text)
    before = call(built, "log", "list")
    assert rounds(built, text).count("It was written down already.") == 3
    assert call(built, "log", "list") == before


def test_the_answer_as_json_and_options_for_all_lines(built):
    told = json.loads(
        rounds(
            built,
            "yesterday 12:00;p2;west;141,5;;;\n;p2;east;-;;;\n;b1;;warm;;;\n",
            *("--at", "yesterday 12:30", "--by", "Ann", "--json"),
            head=HEAD.replace(",", ";"),
            code=1,
        )
    )
    (taken,) = told["taken"]
    assert (taken["number"], taken["lines"], taken["payload"]["by"]) == (2, [2], "Ann")
    assert taken["payload"]["rows"][0][2] == 141_500_000
    assert [(one["line"], one["question"]) for one in told["waiting"]] == [(4, False)]
    assert "is no temperature" in told["waiting"][0]["why"]


def test_a_slipped_point_waits_and_the_rest_of_its_round_is_taken(built):
    sheet = HEAD + "1 h ago,p2,west,14.5,,,Ann\n1 h ago,p2,east,141,,,Ann\n"
    (built / "sheet.csv").write_text(sheet)
    said = call(built, "log", "rounds", built / "sheet.csv", code=1)
    assert "141 °F by hand at east" in said
    assert "line 2, Bay 2 at west: Bay 2 at west: 14.5 °F stands beside 141 °F. Was 145 °F meant?" in said


def test_only_said_no_line_is_written_down(built):
    (built / "sheet.csv").write_text(HEAD + "1 h ago,p2,west,141,,,Ann\n1 h ago,p2,east,abc,,,Ann\n")
    before = call(built, "log", "list")
    said = call(built, "log", "rounds", built / "sheet.csv", "--only-say", code=1)
    assert "Not written down: Bay 2 141 °F by hand at west" in said
    assert "It would be refused about line 3, Bay 2 at east" in said
    assert call(built, "log", "list") == before
    assert '--only-say does not go with "rounds", which writes nothing down' in call(
        built, "log", "rounds", "--only-say", code=2
    )


def test_what_is_dangerous_is_said_at_once(built):
    assert "185 °F is fire danger" in rounds(built, "1 h ago,p2,west,185,,,\n")


@pytest.mark.parametrize(
    ("head", "text", "more", "says"),
    [
        ("a,b\n", "1,2\n", [], "is no sheet of a round: its first line names the columns time, place, spot, value"),
        (HEAD, "tomorrow 9:00,p2,west,141,,,\n", [], "lies in the future"),
        (HEAD, "", [], "Nothing was read on"),
        (HEAD, "", ["--spot", "west"], '--spot does not go with "rounds"'),
    ],
)
def test_what_is_no_sheet_is_refused(built, head, text, more, says):
    (built / "sheet.csv").write_text(head + text)
    code = 1 if "future" in says else 2
    assert says in call(built, "log", "rounds", built / "sheet.csv", *more, code=code)


def test_a_file_that_is_not_there_is_said(yard):
    assert "cannot be read (No such file or directory)" in call(yard, "log", "rounds", yard / "none.csv", code=3)


def test_an_empty_slip_is_printed_for_a_place_by_id_or_name(yard):
    by_id, by_name = (call(yard, "log", "slip", place) for place in ("p2", "Bay 2"))
    assert by_id == by_name
    assert by_id.startswith("<svg ")
    for word in ("west", "east", "Turned"):
        assert f">{word}</text>" in by_id
    assert "Type it in when you can" in by_id


def test_a_slip_for_no_place_and_one_with_options_are_refused(yard):
    assert 'there is no pile or bin "p9"' in call(yard, "log", "slip", "p9", code=2)
    assert '--by does not go with "slip"' in call(yard, "log", "slip", "p2", "--by", "Ann", code=2)
