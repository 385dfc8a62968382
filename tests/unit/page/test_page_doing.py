"""What is done on the page becomes an event with a name, can be taken back for a minute, and is told where it is refused."""

import re

from page_visitor import words_of

from monitor.model.events import EventKind
from monitor.model.words import AlarmState


def test_turning_now_is_one_tap(yard, near):
    answer = near.send("/do/work", place="p1", kind="turned", back="/place/p1")
    assert answer.status_code == 303
    assert [(one["kind"], one["place"]) for one in yard.works()] == [("turned", "p1")]
    assert yard.works()[0]["by"] == "somebody at the yard's computer"
    text = near.get(answer.headers["location"]).text
    assert "Written down: turned" in text
    assert "Undo" in text


def test_undo_takes_back_what_was_just_written(yard, near):
    place = near.send("/do/work", place="p1", kind="watered", amount="60", measure="L").headers["location"]
    token = re.search(r'name="done" value="([^"]+)"', near.get(place).text)[1]
    assert near.send("/do/undo", done=token).status_code == 303
    kind, payload = yard.put_in[-1]
    assert kind is EventKind.CORRECTION
    assert payload["work"] is None


def test_a_reading_by_hand_is_taken_back(yard, near):
    place = near.send("/do/reading", place="p1", value="31", by="Ann", when="2026-07-20T07:30").headers["location"]
    text = near.get(place).text
    assert "31 °F by hand, " in text
    assert 'class="by">Ann' in text
    token = re.search(r'name="done" value="([^"]+)"', text)[1]
    assert near.send("/do/undo", done=token).status_code == 303
    kind, payload = yard.put_in[-1]
    assert kind is EventKind.CORRECTION
    assert payload["reading"] == {"time": 1_784_547_000_000, "probe": "hand:p1"}
    text = near.get("/place/p1").text
    assert "31 °F by hand, " not in text
    assert 'data-line="by hand"' not in text
    near.send("/do/reading", place="p1", value="131", when="2026-07-20T07:30")
    text = near.get("/place/p1").text
    assert "131 °F by hand" in text, "what is written down instead may name the same minute"
    assert 'data-line="by hand"' in text


def test_what_a_probe_measured_cannot_be_taken_back(yard):
    wish = {"of": yard.clock, "work": None, "by": "x", "reading": {"time": yard.clock, "probe": "p1-a"}}
    assert "only a reading taken by hand" in yard.put(EventKind.CORRECTION, wish).refusal


def test_undo_of_a_reading_repeats_no_danger(yard, near):
    answer = near.send("/do/reading", place="b1", value="141.5")
    text = near.get(answer.headers["location"]).text
    assert "puts the worms in danger" in text
    token = re.search(r'name="done" value="([^"]+)"', text)[1]
    answer = near.send("/do/undo", done=token)
    shown = re.search(r'<div class="done".*?</div>', near.get(answer.headers["location"]).text, re.S)[0]
    assert "Taken back: 141.5 °F by hand." in shown
    assert "danger" not in shown


def shown(near, answer):
    return re.search(r'<div class="done".*?</p>', near.get(answer.headers["location"]).text, re.S)[0]


def test_a_reading_in_a_bin_that_is_empty_by_the_log_says_that_nobody_is_told(yard, near):
    near.send("/do/work", place="b1", kind="emptied")
    told = shown(near, near.send("/do/reading", place="b1", value="97"))
    assert "By the log Sunny wall bin is empty, so nobody is told: log what went into it (bedded, fed)" in told
    assert told.endswith("undo the emptying.</p>")
    near.send("/do/work", place="b1", kind="bedded")
    assert "By the log" not in shown(near, near.send("/do/reading", place="b1", value="97"))


def test_a_look_into_a_bin_is_written_down_by_its_words(yard, near):
    form = near.get("/place/b1").text
    assert "Looked into …" in form
    assert '<option value="on the lid">on the lid</option>' in form
    assert '<option value="4">4: two or three drops</option>' in form
    assert "Looked into …" not in near.get("/place/p1").text
    told = shown(near, near.send("/do/work", place="b1", kind="inspected", worms="on the lid", smell="", squeeze="5"))
    assert "inspected: worms on the lid, squeeze 5 (runs)" in told
    assert yard.works()[-1]["worms"] == "on the lid"
    refused = near.send("/do/work", place="b1", kind="inspected", form="inspected", smell="", note="all fine")
    assert "What did you see?" in refused.text
    assert "says nothing of worms" in near.send("/do/work", place="b1", kind="inspected", worms="gone").text


def test_a_harvest_and_its_screening_are_written_down_with_their_figures(yard, near):
    form = near.get("/place/b1").text
    assert "Harvested …" in form
    assert "passed ⅛ in (3.2 mm)" in form
    assert '<p class="care">Screening throws up dust and mold: damp what dusts' in form
    assert '<p class="care">Wet castings are heavy: half loads' in form
    assert "Harvested …" not in near.get("/place/p1").text
    told = shown(near, near.send("/do/work", place="b1", kind="harvested", amount="100", measure="lb", moisture="74 %"))
    assert "harvested 100 lb, moisture 74 %" in told
    fractions = {"fines": "30 lb", "middle": "9lb", "overs": "0 lb"}
    told = shown(near, near.send("/do/work", place="b1", kind="screened", amount="47", measure="lb", **fractions))
    assert "screened 47 lb: fines 30 lb, middle 9 lb, overs 0 lb" in told
    assert yard.works()[-1]["overs"] == "0 lb"
    refused = near.send("/do/work", place="b1", kind="screened", form="screened", fines="30", moisture="45").text
    form = refused[refused.index('data-key="screened" open') :].split("</details></form>")[0]
    assert "says nothing of fines; fines are a mass or a volume, such as 30 lb" in form
    assert re.search(r'name="fines"[^>]*value="30" aria-invalid="true"', form)
    assert re.search(r'name="moisture"[^>]*value="45">', form)
    other = {"place": "p1", "kind": "screened", "form": "other", "again": "1"}
    told = shown(near, near.send("/do/work", **other, what="p1-a", fines="300 lb", overs="0 lb"))
    assert "screened p1-a: fines 300 lb, overs 0 lb" in told, "a heap is screened under *other work*"
    refused = near.send("/do/work", **other, middle="30").text
    form = refused[refused.index('data-key="other" open') :].split("</form></details>")[0]
    assert '<details class="more" open>\n<summary>Screened or sampled' in form
    assert re.search(r'name="middle"[^>]*value="30" aria-invalid="true"', form)


def test_a_probe_that_shows_something_else_than_was_read_is_named(yard, near):
    told = shown(near, near.send("/do/reading", place="b1", value="70"))
    assert "Written down: 70 °F by hand. b1-t shows 93 °F: look at the probe.</p>" in told
    assert "look at the probe" not in shown(near, near.send("/do/reading", place="b1", value="93"))


def test_undo_ends_after_a_day(yard, near, monkeypatch):
    from monitor.page.shared import page_context

    place = near.send("/do/work", place="p1", kind="turned").headers["location"]
    token = re.search(r'name="done" value="([^"]+)"', near.get(place).text)[1]
    real = page_context.time.time
    monkeypatch.setattr(page_context.time, "time", lambda: real() + 86_401)
    assert near.send("/do/undo", done=token).status_code == 400
    assert len(yard.put_in) == 1


def test_undo_waits_for_slow_hands(yard, near, monkeypatch):
    from monitor.page.shared import page_context

    place = near.send("/do/work", place="p1", kind="watered").headers["location"]
    token = re.search(r'name="done" value="([^"]+)"', near.get(place).text)[1]
    real = page_context.time.time
    monkeypatch.setattr(page_context.time, "time", lambda: real() + 3600)
    assert near.send("/do/undo", done=token).status_code == 303


def test_a_made_up_undo_is_refused(yard, near):
    assert near.send("/do/undo", done="W10.AAAA").status_code == 400
    assert yard.put_in == []


def test_a_name_that_was_kept_goes_with_the_work(yard, near):
    near.send("/name", name="Ann")
    near.send("/do/work", place="b1", kind="fed", amount="1,5", measure="kg", note="rinds")
    assert {"by": "Ann", "amount": "1.5", "measure": "kg", "note": "rinds"}.items() <= yard.works()[0].items()


def test_a_hand_reading_is_in_the_unit_of_the_site(yard, near):
    assert near.send("/do/reading", place="p1", value="131").status_code == 303
    kind, payload = yard.put_in[0]
    assert kind is EventKind.READINGS
    assert payload["rows"][0][1:] == ["hand:p1", 131_000_000, "[degF]"]
    text = near.get("/place/p1").text
    assert 'data-line="by hand"' in text


def test_a_round_by_hand_is_read_spot_by_spot_and_taken_back_whole(yard, near):
    assert 'name="value_3"' in near.get("/place/p2").text
    place = near.send("/do/reading", place="p2", value_1="141", value_3="138F", by="Ann", again="1").headers["location"]
    _, payload = yard.put_in[0]
    assert [row[1:] for row in payload["rows"]] == [
        ["hand:p2:east", 138_000_000, "[degF]"], ["hand:p2:west", 141_000_000, "[degF]"],
    ]  # fmt: skip
    text = near.get(place).text
    assert "Not read: middle" in text
    assert "141 °F by hand at west" in text
    token = re.search(r'name="done" value="([^"]+)"', text)[1]
    assert near.send("/do/undo", done=token).status_code == 303
    assert [one["probe"] for one in yard.put_in[-1][1]["readings"]] == ["hand:p2:east", "hand:p2:west"]
    assert "141 °F by hand at west" not in near.get("/place/p2").text


def test_what_a_hand_reading_means_is_said_in_the_same_breath_and_it_rings(yard, near):
    place = near.send("/do/reading", place="p2", value_2="185").headers["location"]
    text = near.get(place).text
    assert "185 °F is fire danger (limit 180 °F): keep people off." in text
    assert "FIRE DANGER" in near.get("/").text or "Fire danger" in near.get("/").text


def test_what_cannot_be_meant_is_told_and_kept_in_the_form(yard, near):
    for path, form, words in (
        ("/do/reading", {"value": "warm"}, "is no temperature"),
        ("/do/reading", {"value": "900"}, "is no temperature of a heap or bin"),
        ("/do/work", {"kind": "watered", "amount": "a lot"}, "is no amount"),
        ("/do/work", {"kind": "danced"}, "Choose what was done"),
        ("/do/work", {"kind": "note", "note": "  "}, "The note is empty"),
        ("/do/work", {"kind": "moved", "to": "b1"}, "Choose the pile"),
        ("/do/work", {"kind": "turned", "when": "2030-01-01T10:00"}, "lies in the future"),
        ("/do/work", {"kind": "probe out", "probe": "b9"}, "Choose the probe"),
    ):
        answer = near.send(path, place="p1", **form)
        assert answer.status_code == 400, form
        assert words in answer.text
    assert yard.put_in == []
    assert 'value="warm"' in near.send("/do/reading", place="p1", value="warm").text


def test_work_may_be_dated_back(yard, near):
    near.send("/do/work", place="p1", kind="turned", when="2026-07-20T07:30")
    assert yard.works()[0]["time"] == 1_784_547_000_000


def test_an_alarm_is_seen_and_put_off(yard, near):
    key = "b1/worms-in-danger"
    near.send("/do/answer", alarm=key, answer="seen")
    assert yard.alarms[key].state is AlarmState.ACKNOWLEDGED
    near.send("/do/answer", alarm=key, answer="put off", until="2h")
    assert yard.alarms[key].state is AlarmState.SHELVED
    text = near.get("/").text
    assert "Put off until 10:00" in text, "a danger stays in its rank although it was put off"
    assert "for a week" not in text.split('class="put-off"')[0]
    near.send("/do/answer", alarm=key, answer="taken up again")
    assert yard.alarms[key].state is AlarmState.UNACKNOWLEDGED
    assert near.send("/do/answer", alarm=key, answer="taken up again").status_code == 400
    assert near.send("/do/answer", alarm=key, answer="put off", until="2020-01-01T00:00").status_code == 400


def test_probes_go_out_with_a_turning_and_come_back_with_a_tap(yard, near):
    near.send("/do/work", place="p1", kind="turned")
    assert "All probes are back in" in near.get("/place/p1").text
    near.send("/do/probes", place="p1")
    assert [one["kind"] for one in yard.works()] == ["turned", "probe in", "probe in"]
    assert "All probes are back in" not in near.get("/place/p1").text
    assert any("p1-a, p1-b put in" in line for line in words_of(near.get("/place/p1").text, "log"))


def test_a_stretch_is_called_trouble_and_that_is_dropped_again(near, marks):
    form = {"place": "b1", "kind": "trouble", "note": "lid left shut"}
    stretch = {"from": "2026-07-20T06:00", "to": "2026-07-20T08:00"}
    assert near.send("/do/mark", **form, **stretch).status_code == 303
    ((place, mark, _),) = marks.kept
    assert (place, mark.kind, mark.note, mark.end - mark.start) == ("b1", "trouble", "lid left shut", 7_200_000)
    assert "lid left shut" in near.get("/place/b1").text
    near.send("/do/mark", **form, **{"from": str(mark.start), "to": str(mark.end)}, drop="1")
    assert marks.kept == []
    assert near.send("/do/mark", place="b1", kind="trouble", **{"from": "", "to": ""}).status_code == 400


def test_a_certificate_is_made_and_opened(near):
    answer = near.send("/do/certificate", place="p1")
    assert answer.status_code == 303
    text = near.get("/place/p1").text
    path = re.search(r'href="(/certificate/[^"]+)"', text)[1]
    opened = near.get(path)
    assert opened.headers["content-type"] == "application/pdf"
    assert opened.content.startswith(b"%PDF")
    empty = near.send("/do/certificate", place="p2")
    assert (empty.status_code, "Nothing lies here" in empty.text) == (400, True)


def test_what_the_writer_refuses_is_told(yard, near, monkeypatch):
    from monitor.page import Done

    monkeypatch.setattr(yard, "put", lambda kind, payload, again: Done(None, "Something else is lying there."))
    answer = near.send("/do/work", place="p1", kind="turned")
    assert answer.status_code == 400
    assert "Something else is lying there." in answer.text


def test_nothing_is_done_by_looking(yard, near):
    for path in ("/do/work?place=p1&kind=turned", "/do/answer?alarm=b1/worms-in-danger&answer=seen", "/do/undo"):
        assert near.get(path).status_code in (404, 405)
    assert yard.put_in == []


def test_a_put_off_says_which_evening_is_meant_the_nearest_end_first(yard):
    from monitor.page.forms.put_offs import put_off_words

    def words(hours):
        return [said for _, said in put_off_words(yard.configuration.settings, yard.clock + hours * 3_600_000)]

    assert words(0) == ["for 2 h", "until 18:00", "until tomorrow 07:00", "for a week"]
    assert words(12) == ["for 2 h", "until tomorrow 07:00", "until tomorrow 18:00", "for a week"]


def test_a_place_read_by_hand_says_so_and_is_not_unknown(yard, near):
    near.send("/do/work", place="p2", kind="built")
    assert "Bay 2" in near.get("/").text
    near.send("/do/reading", place="p2", value_1="141", value_2="145", value_3="138", by="Ann", again="1")
    text = near.get("/place/p2").text
    assert "138 °F by hand, Ann" in text
    assert ">by hand at west</th>" in text
    assert "hand:p2:west" not in text
    assert "coldest of 3" in text
    assert "No core probe speaks now" not in text
    assert 'data-line="by hand at west"' in text


def test_an_answer_is_repeated_in_its_own_words(near):
    key = "b1/worms-in-danger"
    answers = (("seen", "Seen."), ("seen", "It is seen already by"), ("not me after all", "Not me after all."))
    for answer, words in answers:
        told = shown(near, near.send("/do/answer", alarm=key, answer=answer, back="/place/b1"))
        assert words in told, answer
