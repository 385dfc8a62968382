"""The page asks before it believes: two buttons, the form kept, and what was sent twice taken once."""

import re

from page_yard_for_tests import NOW

from monitor.app.entries import questioning
from monitor.model.events import EventKind
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS


def hidden(text):
    asked = text.split('id="question"')[1].split("</section>")[0]
    return dict(re.findall(r'name="(\w+)" value="([^"]*)"', asked))


def test_two_turnings_in_six_seconds_are_asked_about(yard, near):
    assert near.send("/do/work", place="p1", kind="turned").status_code == 303
    yard.clock += 6_000
    answer = near.send("/do/work", place="p1", kind="turned", note="again")
    assert answer.status_code == 409
    assert "was turned" in answer.text
    assert "Not written down yet" in answer.text
    assert len(yard.works()) == 1
    kept = hidden(answer.text)
    assert (kept["kind"], kept["note"], kept["again"]) == ("turned", "again", "1")
    answer = near.send("/do/work", **{name: text for name, text in kept.items() if name not in ("token", "back")})
    assert answer.status_code == 303
    assert len(yard.works()) == 2
    assert "counts as one with that of" in near.get(answer.headers["location"]).text


def test_any_past_is_asked_about(yard, near):
    answer = near.send("/do/work", place="b1", kind="fed", amount="5", measure="lb", when="2020-01-01T09:00")
    assert answer.status_code == 409
    assert "Is the day right?" in answer.text
    answer = near.send("/do/reading", place="b1", value="80", when="2020-01-01T09:00")
    assert answer.status_code == 409
    assert not yard.works()


def test_what_a_browser_sends_twice_is_taken_once(yard, near):
    form = {"place": "b1", "kind": "fed", "amount": "5", "measure": "lb", "entry": "Ab3-_x9Qw8Er7Ty6Ui5Op4"}
    for _ in range(3):
        assert near.send("/do/work", **form).status_code == 303
        yard.clock += HOUR_MS
    assert len(yard.works()) == 1
    form = {"place": "b1", "value": "80", "entry": "Zb3-_x9Qw8Er7Ty6Ui5Op4"}
    for _ in range(2):
        assert near.send("/do/reading", **form).status_code == 303
    assert sum(1 for kind, _ in yard.put_in if kind == "readings") == 1


def test_a_us_yard_keeps_the_unit_that_was_used_last(yard, near):
    units = near.get("/place/b1").text.split('name="kind" value="fed"')[1].split("</select>")[0]
    assert "<option>lb</option>" in units
    assert not {"L", "kg"} & set(re.findall(r"<option>([^<]*)</option>", units))
    near.send("/do/work", place="b1", kind="fed", amount="2", measure="gal")
    units = near.get("/place/b1").text.split('name="kind" value="fed"')[1].split("</select>")[0]
    assert re.findall(r"<option>([^<]*)</option>", units)[:2] == ["gal", "lb"]
    assert yard.works()[-1]["unit"] == "gal"


def test_other_work_is_not_loaded(near):
    other = near.get("/place/p1").text.split("Other work")[1].split("</select>")[0]
    assert '<option value="">choose' in other
    assert near.send("/do/work", place="p1", kind="").status_code == 400


def test_work_of_the_wrong_kind_of_place_is_asked_about(yard, near):
    assert "is work on worm bins" in near.send("/do/work", place="p1", kind="fed").text
    assert near.send("/do/work", place="p2", kind="turned").status_code == 409
    assert not yard.works()
    assert near.send("/do/work", place="p1", kind="turned", when=local(NOW - 4 * DAY_MS)).status_code == 409


def local(at):
    from datetime import UTC, datetime
    from zoneinfo import ZoneInfo

    moment = datetime.fromtimestamp(at / 1000, UTC).astimezone(ZoneInfo("America/New_York"))
    return f"{moment:%Y-%m-%dT%H:%M}"


def test_a_turning_far_enough_from_the_last_is_not_asked_about(yard, near):
    near.send("/do/work", place="p1", kind="turned", when=local(NOW - 6 * HOUR_MS))
    assert near.send("/do/work", place="p1", kind="turned").status_code == 303
    assert (
        near.send("/do/work", place="p1", kind="turned", when=local(NOW - 6 * HOUR_MS + MINUTE_MS)).status_code == 409
    )


def test_what_came_in_can_be_named(yard, near):
    assert 'name="what"' in near.get("/place/p1").text.split('name="kind" value="added"')[1].split("</form>")[0]
    assert 'name="what"' not in near.get("/place/p1").text.split('name="kind" value="watered"')[1].split("</form>")[0]
    near.send("/do/work", place="p1", kind="added", amount="2", measure="buckets", what="coffee grounds", again="1")
    assert yard.works()[-1]["what"] == "coffee grounds"
    assert "added 2 buckets of coffee grounds" in near.get("/place/p1").text


def test_a_heap_that_only_a_reading_began_is_not_said_to_have_been_built(yard, near):
    near.send("/do/reading", place="p2", value_1="141", by="Ann", again="1", when="2026-07-20T07:30")
    answer = near.send("/do/work", place="p2", kind="turned", form="other", when="2026-07-20T05:00")
    assert answer.status_code == 409
    assert "Bay 2 was first read 07:30; this is earlier." in answer.text
    assert "was built" not in answer.text


def test_a_reading_where_nothing_lies_is_asked_about_and_a_danger_never(yard, near):
    form = {"place": "p2", "value_1": "141", "value_2": "139", "by": "Ann"}
    answer = near.send("/do/reading", **form)
    assert answer.status_code == 409
    assert "Nothing lies on Bay 2, as far as the record knows. A heap would begin with it." in answer.text
    assert 'value="141"' in answer.text, "what was typed stays"
    assert not yard.put_in
    assert near.send("/do/reading", **form, again="1").status_code == 303
    assert yard.writer.engine.state.batches.lying["p2"]
    with_fire = {**form, "value_1": "185"}
    near.send("/do/work", place="p2", kind="emptied", form="other", again="1")
    assert near.send("/do/reading", **with_fire).status_code == 303
    assert yard.alarms["p2/fire"].on


def test_a_place_that_is_empty_by_the_log_and_reads_warm_is_not_called_empty(yard, near):
    near.send("/do/work", place="p1", kind="emptied", form="other", again="1")
    for _ in range(14):
        yard.read(("p1-a", 61.0, "Cel"), ("amb", 20.0, "Cel"))
    text = near.get("/place/p1").text
    assert "Empty by the log, but p1-a reads 141.8 °F: log the heap as built, or the probe as taken out." in text
    assert "Nobody knows how Bay 1 is now" in near.get("/").text


def test_a_reading_by_hand_that_differs_from_the_probe_stands_on_the_sheet_while_it_does(yard, near):
    near.send("/do/reading", place="p1", value="120", by="Ann")
    assert re.search(
        r"120 °F by hand at [^,]*, but p1-[ab] shows 13\d[^:]*: look at the probe", near.get("/place/p1").text
    )
    near.send("/do/reading", place="p1", value="139", by="Ann", again="1")
    assert "look at the probe" not in near.get("/place/p1").text.partition('class="over-time"')[0].split("<main", 1)[1]


def test_the_forms_say_beforehand_what_each_kind_of_work_would_change(near):
    text = near.get("/place/p1").text
    assert '<p class="hint">By raw material it becomes raw again and loses 2 days.</p>' in text
    assert '<p class="hint">emptied: The heap ends after 2 days of its rule.</p>' in text
    for place in ("p2", "b1"):
        assert "The heap ends" not in near.get(f"/place/{place}").text


def test_an_undo_that_loses_something_asks_first(yard, near, monkeypatch):
    lost = "Bay 1 would have 0 turnings that count instead of 1."
    monkeypatch.setattr(questioning, "losses", lambda *_: [lost])
    place = near.send("/do/work", place="p1", kind="turned", back="/place/p1").headers["location"]
    token = re.search(r'name="done" value="([^"]+)"', near.get(place).text)[1]
    yard.clock += 2 * HOUR_MS
    asked = near.send("/do/undo", done=token, back="/place/p1")
    assert asked.status_code == 409
    assert "Not taken back yet" in asked.text
    assert f"{lost} Is that so?" in asked.text
    assert "Yes, take it back" in asked.text
    again = dict(re.findall(r'name="(done|again)" value="([^"]+)"', asked.text.split('id="question"')[1]))
    assert again == {"done": token, "again": "1"}
    assert near.send("/do/undo", back="/place/p1", **again).status_code == 303
    assert yard.put_in[-1][0] is EventKind.CORRECTION
