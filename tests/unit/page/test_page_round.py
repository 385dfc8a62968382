"""The sheet for a round by hand: on paper, and typed in at once for all places."""

import re

import pytest

from monitor.model.events import EventKind
from monitor.model.settings import Bin, Pile, Settings, Site
from monitor.model.times import show_time
from monitor.page.forms.repeats import Once
from monitor.page.sheets.round_sheet import rows_of


def test_each_spot_has_a_line_and_a_place_is_named_once():
    settings = Settings(
        site=Site(name="Yard"),
        piles={"p1": Pile(name="Bay 1", spots=("west", "east")), "p2": Pile(name="Bay 2")},
        bins={"b1": Bin(name="Bin 1", spots=("door",))},
    )
    assert [(one.place, one.spot, one.bed, one.key, one.named) for one in rows_of(settings)] == [
        ("Bay 1", "west", False, "p1:west", "Bay 1, west"),
        ("", "east", False, "p1:east", "Bay 1, east"),
        ("Bay 2", "", False, "p2:", "Bay 2"),
        ("Bin 1", "door", True, "b1:door", "Bin 1, door"),
    ]


def test_the_sheet_is_reached_from_the_diary_and_explains_the_squeeze(near):
    assert 'href="/round"' in near.get("/diary").text
    sheet = near.get("/round").text
    assert "2 holds, no shine" in sheet
    assert "rotten eggs" in sheet
    assert "If it smokes or smells of burning" in sheet
    assert sheet.count("<tr>") > 2
    assert 'name="value:p2:middle"' in sheet
    assert 'name="squeeze:b1:"' in sheet
    assert 'name="squeeze:p1:"' not in sheet, "a heap is not squeezed"


def hands(yard):
    """Return (series, when in UTC, by, thermometer) of each reading by hand that was taken in, in order."""
    return sorted(
        (row[1], show_time(row[0]), told.get("by", ""), told.get("with", ""))
        for kind, told in yard.put_in
        if kind is EventKind.READINGS
        for row in told["rows"]
    )


def test_all_places_are_typed_in_at_once_and_an_empty_line_is_no_reading(near, yard):
    sent = {
        "when": "2026-07-20T07:30", "by": "Ann", "with": "dial 2",
        "value:p1:": "141", "value:p2:west": "138", "value:p2:east": "140", "by:p2:east": "BK", "time:p2:west": "07:10",
        "value:b1:": "72", "squeeze:b1:": "3", "smell:b1:": "earthy", "time:b1:": "06:45",
    }  # fmt: skip
    near.send("/do/work", place="p2", kind="built", when="2026-07-15T08:00", again="1")
    answer = near.send("/do/round", **sent)
    assert answer.status_code == 303, answer.text
    sheet = near.get(answer.headers["location"]).text
    assert "Written down: Bay 1" not in sheet.partition("<h1>")[2]
    for words in ("141 °F by hand", "138 °F by hand at west", "140 °F by hand at east", "72 °F by hand", "squeeze 3"):
        assert words in sheet
    assert "middle" not in sheet.partition('role="status" data-keep')[2].partition("</p>")[0]
    assert hands(yard) == [
        ("hand:b1", "2026-07-20T10:45:00.000Z", "Ann", "dial 2"),
        ("hand:p1", "2026-07-20T11:30:00.000Z", "Ann", "dial 2"),
        ("hand:p2:east", "2026-07-20T11:10:00.000Z", "BK", "dial 2"),
        ("hand:p2:west", "2026-07-20T11:10:00.000Z", "Ann", "dial 2"),
    ]


def test_a_line_that_is_refused_or_asked_about_waits_and_the_others_are_taken(near, yard):
    near.send("/do/work", place="p2", kind="built", when="2026-07-15T08:00", again="1")
    near.send("/do/round", **{"value:p2:west": "141", "value:p2:east": "142", "when": "2026-07-20T06:00"})
    sent = {"when": "2026-07-20T07:30", "value:p2:west": "60", "value:p2:middle": "hot", "value:p2:east": "140",
            "value:b1:": "75", "squeeze:b1:": "4"}  # fmt: skip
    answer = near.send("/do/round", **sent)
    assert answer.status_code == 400
    assert "2 lines wait" in answer.text
    assert "Was 60 °C meant?" in answer.text
    assert "&#34;hot&#34; is no temperature" in answer.text
    assert "Written down: Bay 2 140 °F by hand at east; " in answer.text
    assert re.search(r'name="value:p2:west"[^>]*value="60" aria-invalid="true"', answer.text)
    assert 'value="140"' not in answer.text, "taken lines are not sent again"
    assert 'name="again:p2:west"' in answer.text
    assert 'name="again:p2:middle"' not in answer.text, "what cannot be a temperature cannot be confirmed"
    before = len(hands(yard))
    asked = near.send("/do/round", **{"when": "2026-07-20T07:30", "value:p2:west": "60"})
    assert asked.status_code == 409
    again = {"when": "2026-07-20T07:30", "value:p2:west": "60", "again:p2:west": "1", "value:p2:middle": "139"}
    assert near.send("/do/round", **again).status_code == 303
    assert len(hands(yard)) == before + 2


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({}, "Nothing is typed in yet: every line is empty."),
        ({"value:p1:": "141", "when": "2027-01-01T00:00"}, "That lies in the future"),
        ({"value:p1:": "141", "time:p1:": "25:00"}, "is no time of day; write such as 14:05."),
        ({"smell:b1:": "roses"}, "says nothing of smell"),
        ({"value:p1:": "41 %"}, "is moisture, and by hand only temperatures are taken"),
    ],
)
def test_what_cannot_be_is_said_and_stays_in_the_form(near, yard, sent, words):
    answer = near.send("/do/round", **sent)
    assert answer.status_code == 400
    assert words in answer.text
    for name, text in sent.items():
        if name.startswith("value"):
            assert f'value="{text}"' in answer.text
    assert hands(yard) == []


def test_a_sheet_that_a_browser_sends_twice_is_taken_once(open_page, yard):
    _, page, signed = open_page
    near = signed()
    sent = {"entry": "abcdefgh12345678", "value:p1:": "141", "value:b1:": "75", "squeeze:b1:": "4", "smell:p1:": ""}
    assert near.send("/do/round", **sent).status_code == 303
    assert len(yard.put_in) == 3
    page.once = Once()  # as after a start of the daemon
    assert near.send("/do/round", **sent, late_ms="4000").status_code == 303
    assert len(yard.put_in) == 3


def test_strangers_write_nothing(open_page, yard):
    elsewhere, _, _ = open_page
    assert elsewhere().post("/do/round", data={"value:p1:": "141"}, follow_redirects=False).status_code in (401, 403)
    assert yard.put_in == []


def test_the_sheet_goes_through_places_as_people_count():
    from monitor.configuration import load_text
    from monitor.page.forms.round_form import lines_of_places
    from monitor.proof.rules import rule_ids

    bays = "".join(f'[piles.p{number}]\nname = "Bay {number}"\n' for number in (1, 10, 2))
    bins = "".join(f'[bins.b{number}]\nname = "Bin {number}"\n' for number in (11, 3))
    text = '[site]\nname = "Many"\ntime_zone = "UTC"\n' + bays + bins
    assert list(lines_of_places(load_text(text, None, {}, rules=rule_ids()).settings)) == [
        "p1",
        "p2",
        "p10",
        "b3",
        "b11",
    ]
