"""Any entry of the log is put right, or taken back, from its line: with the command line's questions, whenever it was made."""

import re

import pytest

from monitor.model.events import EventKind
from monitor.model.times import HOUR_MS


def entry_of(near, line, place="p1"):
    """Follow the line of a place's log that has some words; return the sheet's number and text."""
    text = near.get(f"/place/{place}").text
    found = next(way for way, words in re.findall(r'<a href="(/entry\?[^"]+)">([^<]*)</a>', text) if line in words)
    answer = near.get(found.replace("&amp;", "&"))
    assert answer.status_code == 200
    return re.search(r"<h1>Entry (\d+)</h1>", answer.text)[1], answer.text


def fields_in(text):
    """Return the form that mends, as it stands on the sheet."""
    form = re.search(r'<form method="post" action="/do/mend".*?</form>', text, re.DOTALL)[0]
    found = dict(re.findall(r'<input (?:type="(?!checkbox)[^"]*" )?name="([^"]+)"[^>]*?value="([^"]*)"', form))
    for name, inside in re.findall(r'<select name="([^"]+)"[^>]*>(.*?)</select>', form, re.DOTALL):
        options = re.findall(r'<option(?: value="([^"]*)")?( selected)?>([^<]*)</option>', inside)
        chosen = next((one for one in options if one[1]), options[0])
        found[name] = chosen[0] or ("" if 'value=""' in inside and not chosen[2] else chosen[2])
    found |= dict(re.findall(r'<textarea name="([^"]+)"[^>]*>([^<]*)</textarea>', form))
    return found


def mended(near, text, **changed):
    form = fields_in(text) | changed
    return near.post("/do/mend", data=form, follow_redirects=False)


@pytest.fixture
def watered(yard, near):
    near.send("/do/work", place="p1", kind="watered", amount="60", measure="L", by="Ann", note="thirsty")
    yard.clock += 50 * HOUR_MS
    return entry_of(near, "watered 60 L")


def test_an_entry_of_days_ago_is_put_right_from_its_line(yard, near, watered):
    number, text = watered
    answer = mended(near, text, amount="40", note="it was dry")
    assert answer.status_code == 303
    kind, payload = yard.put_in[-1]
    assert kind is EventKind.CORRECTION
    assert (payload["work"]["amount"], payload["work"]["unit"], payload["work"]["note"]) == ("40", "L", "it was dry")
    assert payload["work"]["by"] == "Ann", "who mends it need not be who did it"
    assert payload["by"] == "somebody at the yard's computer"
    sheet = near.get(answer.headers["location"]).text
    assert f"Entry {number} put right" in sheet
    assert "watered 40 L (it was dry)" in sheet
    assert "watered 60 L" not in sheet
    assert "Put right" in near.get(f"/entry/{number}").text


def test_a_form_that_changes_nothing_says_so_and_keeps_its_seconds(yard, near, watered):
    before = len(yard.put_in)
    answer = mended(near, watered[1])
    assert answer.status_code == 400
    assert "Nothing about it would change" in answer.text
    assert len(yard.put_in) == before


def test_another_time_another_person_another_place(yard, near, watered):
    answer = mended(near, watered[1], when="2026-07-19T18:30", place="p2", by="?", by_other="Bo")
    assert answer.status_code == 303
    work = yard.put_in[-1][1]["work"]
    assert (work["place"], work["by"], work["time"]) == ("p2", "Bo", 1_784_500_200_000)
    assert answer.headers["location"].startswith("/place/p1"), "people come from there"


def test_a_wrong_amount_and_a_time_ahead_stand_at_their_fields(yard, near, watered):
    before = len(yard.put_in)
    answer = mended(near, watered[1], amount="lots")
    assert answer.status_code == 400
    field = re.search(r'<input name="amount"[^>]*>', answer.text)[0]
    assert 'aria-invalid="true" aria-describedby="wrong" autofocus' in field
    assert 'value="lots"' in field
    answer = mended(near, watered[1], when="2031-01-01T10:00")
    assert 'aria-invalid="true"' in re.search(r'<input type="datetime-local" name="when"[^>]*>', answer.text)[0]
    answer = mended(near, watered[1], by="?", by_other=" ")
    assert 'aria-invalid="true"' in re.search(r'<input name="by_other"[^>]*>', answer.text)[0]
    assert len(yard.put_in) == before


def test_an_emptied_amount_is_gone_with_its_unit(yard, near, watered):
    assert mended(near, watered[1], amount="").status_code == 303
    work = yard.put_in[-1][1]["work"]
    assert not {"amount", "measure", "unit"} & work.keys()


def test_an_entry_is_taken_back_whenever_it_was_made(yard, near, watered):
    number, _ = watered
    answer = near.send("/do/take-back", number=number)
    assert answer.status_code == 303
    assert yard.put_in[-1][1]["work"] is None
    assert "watered 60 L" not in near.get("/place/p1").text
    sheet = near.get(f"/entry/{number}").text
    assert "<strong>Taken back</strong>" in sheet
    assert "/do/mend" not in sheet
    again = near.send("/do/take-back", number=number)
    assert again.status_code == 400
    assert f"Entry {number} is taken back already" in again.text


def test_what_the_writer_asks_is_asked_and_confirmed(yard, near, monkeypatch):
    near.send("/do/work", place="p1", kind="turned", again="1")
    yard.clock += 5 * HOUR_MS
    number, _ = entry_of(near, "turned")
    monkeypatch.setattr("monitor.app.entries.questioning.losses", lambda *_: ["Bay 1 would lose 1 turning."])
    before = len(yard.put_in)
    asked = near.send("/do/take-back", number=number)
    assert asked.status_code == 409
    assert "Bay 1 would lose 1 turning. Is that so?" in asked.text
    assert len(yard.put_in) == before
    assert near.send("/do/take-back", number=number, again="1").status_code == 303


def test_a_round_by_hand_is_put_right_in_one_go(yard, near):
    near.send(
        "/do/reading", place="p2", value_1="131", value_2="140", value_3="128", by="Ann", again="1", note="dial 2"
    )
    yard.clock += 30 * HOUR_MS
    _, text = entry_of(near, "140 °F by hand at middle", "p2")
    before = len(yard.put_in)
    assert mended(near, text, **{"value:middle": "104"}, again="1").status_code == 303
    (back, gone), (new, right) = yard.put_in[before:]
    assert (back, new) == (EventKind.CORRECTION, EventKind.READINGS)
    assert gone["reading"]["probe"] == "hand:p2:middle"
    assert [row[1:] for row in right["rows"]] == [["hand:p2:middle", 104_000_000, "[degF]"]]
    assert (right["by"], right["note"]) == ("Ann", "dial 2")
    sheet = near.get("/place/p2").text
    assert "104 °F by hand at middle" in sheet
    assert "140 °F" not in re.search(r'<section class="log".*?</section>', sheet, re.DOTALL)[0]
    assert "131 °F by hand at west" in sheet
    _, text = entry_of(near, "131 °F by hand at west", "p2")
    answer = mended(near, text, when="2026-07-20T07:10", again="1")
    assert answer.status_code == 303
    assert {row[1] for row in yard.put_in[-1][1]["rows"]} == {"hand:p2:west", "hand:p2:east"}


def test_a_reading_that_would_be_asked_about_stays_until_that_is_answered(yard, near):
    near.send("/do/reading", place="p2", value_1="100", again="1")
    _, text = entry_of(near, "100 °F by hand at west", "p2")
    before = len(yard.put_in)
    asked = mended(near, text, when="2020-01-01T10:00")
    assert asked.status_code == 409
    assert len(yard.put_in) == before, "the old one is not withdrawn before the right one is sure"
    assert mended(near, text, when="2020-01-01T10:00", again="1").status_code == 303


def test_each_probe_on_a_line_leads_to_its_own_entry(yard, near):
    for probe in ("p1-a", "p1-b"):
        near.send("/do/work", place="p1", kind="probe out", probe=probe, when="2026-07-20T07:00")
    numbers = {entry_of(near, probe)[0] for probe in ("p1-a", "p1-b")}
    assert len(numbers) == 2
    assert "taken out" in re.search(r'<section class="log".*?</section>', near.get("/place/p1").text, re.DOTALL)[0]


def test_the_yards_own_entries_are_mended_with_risks_and_absences(yard, near):
    near.send(
        "/do/work", place="yard", kind="delivery", what="horse manure", amount="3", measure="yd³", source="Hill stable"
    )
    _, text = entry_of(near, "horse manure", "yard")
    answer = mended(near, text, risk_wormer="1")
    assert answer.status_code == 303
    assert yard.put_in[-1][1]["work"]["risk"] == "wormer"
    assert "Who may have some of it already" in near.get(answer.headers["location"]).text
    near.send("/do/work", place="yard", kind="away", contact="ann", start="2026-07-21T08:00", end="2026-07-24T08:00")
    _, text = entry_of(near, "Ann", "yard")
    assert mended(near, text, end="2026-07-25T08:00").status_code == 303
    assert yard.put_in[-1][1]["work"]["end"] == "2026-07-25T12:00:00.000Z"
    near.send("/do/work", place="yard", kind="visitors", note="school class")
    _, text = entry_of(near, "school class", "yard")
    answer = mended(near, text, note=" ")
    assert answer.status_code == 400
    assert "nothing but its remark" in answer.text


def test_a_look_into_a_bin_is_put_right_and_one_sight_emptied(yard, near):
    near.send("/do/work", place="b1", kind="inspected", worms="few", smell="sour")
    _, text = entry_of(near, "few", "b1")
    assert mended(near, text, worms="plenty", smell="").status_code == 303
    work = yard.put_in[-1][1]["work"]
    assert work["worms"] == "plenty"
    assert "smell" not in work


def test_odd_addresses_and_numbers_are_told_in_a_sentence(near):
    for path in ("/entry", "/entry?at=x&row=9e9", "/entry/0", "/entry/abc", "/entry/99999999999", "/entry/7"):
        answer = near.get(path)
        assert answer.status_code == 404, path
        assert "Traceback" not in answer.text
    assert near.send("/do/mend", number="12").status_code == 404
    assert near.send("/do/take-back", number="").status_code == 404


def test_guests_follow_no_line_and_see_no_entry(open_page, yard):
    elsewhere, page, keeper = open_page
    keeper().send("/do/work", place="p1", kind="watered", amount="60", measure="L", by="Ann")
    _, secret = page.guests.make("a neighbour", "Ann", 0)
    guest = elsewhere("192.0.2.9")
    guest.get(f"/guest/{secret}", follow_redirects=False)
    sheet = guest.get("/place/p1").text
    assert "watered 60 L" in sheet
    assert "/entry" not in sheet
    assert guest.get("/entry/1").status_code == 403
