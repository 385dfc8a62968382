"""What the page says after a form: what was done, where it leads, what is refused and in which field, who did it in the log."""

import html
import logging
import re

import pytest
from page_visitor import browser
from page_yard_for_tests import NOW, Marks, Papers, page_of

from monitor.model.errors import MisuseError
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.page import Done
from monitor.page.forms.repeats import LATEST_MS, MOST, Once, at_its_time
from monitor.page.shared.just_done import UNDO_S, DoneTokens, JustDone

SOMEBODY = "somebody at the yard's computer"
STRETCH = {"from": "2026-07-20T06:00", "to": "2026-07-20T08:00"}


def said(near, path, **form):
    """Send a form; return (code, the sentence that the sheet then shows)."""
    answer = near.send(path, **form)
    text = answer.text if answer.status_code != 303 else near.get(answer.headers["location"]).text
    for shown in (
        r'<div class="done".*?<p>(.*?)</p>',
        r'class="wrong"[^>]*>(.*?)</p>',
        r'id="asked".*?class="what">(.*?)</p>',
    ):
        if found := re.search(shown, text, re.DOTALL):
            return answer.status_code, html.unescape(found[1])
    raise AssertionError("The sheet says nothing of it.")


def field(near, path, **form):
    """Return the field of a refused form that is marked as wrong."""
    (found,) = re.findall(r'name="(\w+)"[^>]*aria-invalid="true"', near.send(path, **form).text)
    return found


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({"kind": "watered", "amount": " 60 ", "measure": "gal"}, "Written down: watered 60 gal."),
        ({"kind": "watered", "amount": "", "measure": "gal"}, "Written down: watered."),
        ({"kind": "watered", "note": "thoroughly"}, "Written down: watered (thoroughly)."),
        ({"kind": "turned", "amount": "5", "measure": "gal"}, "Written down: turned."),
        ({"kind": "note", "note": "hello\n there"}, "Written down: hello there."),
        (
            {"kind": "added", "amount": "2", "measure": "buckets", "what": "leaves"},
            "Written down: added 2 buckets of leaves.",
        ),
        ({"kind": "moved", "to": "p2"}, "Written down: moved to Bay 2."),
        ({"kind": "probe out", "probe": "p1-a"}, "Written down: p1-a taken out."),
    ],
)
def test_what_was_written_down_is_said_back(near, form, words):
    assert said(near, "/do/work", place="p1", again="1", **form) == (303, words)


@pytest.mark.parametrize(
    ("form", "wrong", "words"),
    [
        ({"form": "other"}, "kind", "Choose what was done."),
        ({"form": "watered", "kind": "watered", "amount": "-3"}, "amount", '"-3" is no amount'),
        ({"form": "note", "kind": "note", "note": " "}, "note", "The note is empty"),
        ({"form": "other", "kind": "moved", "to": "p1"}, "to", "Choose the pile that it went to."),
        ({"form": "other", "kind": "moved", "to": "b1"}, "to", "Choose the pile that it went to."),
        ({"form": "other", "kind": "turned", "when": "soon"}, "when", "That is no time; leave it empty for now."),
        (
            {"form": "other", "kind": "turned", "when": "2026-07-20T08:03"},
            "when",
            "That lies in the future; only what was done",
        ),
    ],
)
def test_a_refusal_stands_at_its_field(near, yard, form, wrong, words):
    code, told = said(near, "/do/work", place="p1", **form)
    assert (code, words in told) == (400, True)
    assert field(near, "/do/work", place="p1", **form) == wrong
    assert yard.put_in == []


def test_two_minutes_ahead_are_a_clock_that_is_wrong_and_mean_now(near, yard):
    near.send("/do/work", place="p1", kind="watered", when="2026-07-20T08:02")
    assert yard.works()[0]["time"] == NOW


def test_texts_are_cut_to_what_a_line_holds(near, yard):
    near.send("/do/work", place="p1", kind="added", what="x" * 90, note="y" * 2_100 + "\u202e", again="1")
    work = yard.works()[0]
    assert (len(work["what"]), work["note"]) == (80, "y" * 2_000)
    near.send("/do/work", place="p1", kind="note", note="one\r\ntwo\u202e\x07", again="1")
    assert yard.works()[1]["note"] == "one\ntwo"
    near.send("/do/reading", place="p1", value="140", again="1", **{"with": " long   dial " + "z" * 60})
    payload = yard.put_in[-1][1]
    assert "long dial " + "z" * 30 in str(payload)
    assert "z" * 31 not in str(payload)


@pytest.mark.parametrize(("entry", "kept"), [("x" * 8, True), ("x" * 7, False), ("x" * 64, True), ("x" * 65, False)])
def test_an_id_of_an_entry_goes_with_it_if_it_can_be_one(near, yard, entry, kept):
    near.send("/do/work", place="p1", kind="watered", entry=entry)
    other = f"{entry[:-1]}y"
    near.send("/do/reading", place="p1", value="140", entry=other, again="1")
    ids = (entry, other)
    assert [one in payload.values() for one, (_, payload) in zip(ids, yard.put_in, strict=True)] == [kept, kept]


def test_readings_of_a_round_name_what_was_read_and_what_was_not(near, yard):
    code, told = said(near, "/do/reading", place="p2", value_1="141", again="1")
    assert (code, told.startswith("Written down: 141 °F by hand at west")) == (303, True)
    assert "Not read" not in told, "a single spot is no round"
    told = said(near, "/do/reading", place="p2", value_1="141", value_2="139", again="1")[1]
    assert "Not read: east." in told
    told = said(near, "/do/reading", place="p2", value_1="141", value_2="139", value_3="138", again="1")[1]
    assert "Not read" not in told
    assert field(near, "/do/reading", place="p2", form="reading", value_1="141", value_2="x") == "value_2"
    assert field(near, "/do/reading", place="p1", form="reading", value="x") == "value"
    assert field(near, "/do/reading", place="p1", value=" ") == "value"


def test_a_turning_says_with_which_it_counts(near, yard):
    near.send("/do/work", place="p1", kind="turned", when="2026-07-20T04:00")
    words = said(near, "/do/work", place="p1", kind="turned", again="1")[1]
    assert words == "Written down: turned; it counts as one with that of 04:00."
    near.send("/do/work", place="p1", kind="turned", when="2026-07-20T02:00", again="1")
    assert said(near, "/do/work", place="p1", kind="watered")[1] == "Written down: watered."


def test_probes_that_are_put_in_together_are_counted(near, yard):
    near.send("/do/work", place="p1", kind="turned")
    near.send("/do/work", place="b1", kind="probe out", probe="b1-t")
    assert said(near, "/do/probes", place="p1", by="Ann") == (303, "2 probes put in.")
    assert [(one["probe"], one["by"]) for one in yard.works()[-2:]] == [("p1-a", "Ann"), ("p1-b", "Ann")]
    assert said(near, "/do/probes", place="p1") == (303, "No probe lay outside.")
    assert said(near, "/do/probes", place="b1") == (303, "1 probe put in.")


def test_an_undo_says_what_it_takes_back_and_a_stale_one_where_to_go(near, yard):
    place = near.send("/do/work", place="p1", kind="watered", amount="60", measure="gal").headers["location"]
    token = re.search(r'name="done" value="([^"]+)"', near.get(place).text)[1]
    assert said(near, "/do/undo", done=token, back="/place/p1") == (303, "Taken back: watered 60 gal.")
    payload = yard.put_in[-1][1]
    assert (payload["work"], payload["by"], payload["of"] - NOW < 1_000) == (None, SOMEBODY, True)
    assert ">Undo<" not in near.get(near.send("/do/probes", place="p1").headers["location"]).text, (
        "there is nothing to undo"
    )
    code, told = said(near, "/do/undo", done="x")
    assert (code, told.startswith("That was more than a day ago; it stays in the log.")) == (400, True)
    code, told = said(near, "/do/undo", done=token)
    assert code == 400, "it was taken back already"
    assert not told.startswith("That was more than a day ago")


def test_what_the_writer_knew_already_is_not_written_twice(near, yard, monkeypatch):
    monkeypatch.setattr(yard, "put", lambda kind, payload, again: Done(None))
    answer = near.send("/do/work", place="p1", kind="watered", back="/place/p1")
    text = near.get(answer.headers["location"]).text
    assert "That was written down already." in text
    assert ">Undo<" not in text


def test_what_the_writer_refuses_is_told_wherever_it_was_asked(near, yard, monkeypatch):
    near.send("/do/work", place="p1", kind="probe out", probe="p1-a")
    token = re.search(r"done=(.*)", near.send("/do/work", place="p1", kind="watered").headers["location"])[1]
    monkeypatch.setattr(yard, "put", lambda kind, payload, again: Done(None, "Not now."))
    for path, form in (
        ("/do/work", {"place": "p1", "kind": "watered"}),
        ("/do/probes", {"place": "p1"}),
        ("/do/answer", {"alarm": "b1/worms-in-danger", "answer": "seen", "back": "/place/b1"}),
        ("/do/undo", {"done": token}),
    ):
        assert said(near, path, **form) == (400, "Not now."), path
    assert (
        'href="/place/b1">' in near.send("/do/answer", alarm="b1/worms-in-danger", answer="seen", back="/place/b1").text
    )


def test_a_refusal_to_see_what_is_over_leads_back(near, yard, monkeypatch):
    for _ in range(16):
        yard.read(("b1-t", 22.0, "Cel"), ("b1-m", 72.0, "%"), after_ms=HOUR_MS)
    monkeypatch.setattr(yard, "put", lambda kind, payload, again: Done(None, "Not now."))
    answer = near.send("/do/seen", back="/place/b1")
    assert (answer.status_code, "Not now." in answer.text) == (400, True)
    assert '<a class="onward" href="/place/b1">Go back</a>' in answer.text


@pytest.mark.parametrize(
    ("form", "code", "words"),
    [
        ({"answer": "seen"}, 303, "Seen."),
        ({"answer": "put off", "until": "2h"}, 303, "Put off until 10:00."),
        ({"answer": "put off", "until": ""}, 400, "Say until when: a time that is still to come."),
        ({"answer": "maybe"}, 400, "Choose what to answer."),
        ({"answer": "taken up again"}, 400, "nobody has answered it"),
        ({"alarm": "none", "answer": "seen"}, 400, '"none" has not rung'),
    ],
)
def test_an_answer_is_said_back_or_refused(near, form, code, words):
    found, told = said(near, "/do/answer", **{"alarm": "b1/worms-in-danger", **form})
    assert (found, words in told) == (code, True)


def test_a_second_seen_says_how_it_stands(near, yard):
    key = "b1/worms-in-danger"
    near.send("/do/answer", alarm=key, answer="put off", until="2h", by="Ann")
    assert said(near, "/do/answer", alarm=key, answer="seen", back="/place/b1") == (
        303,
        "It was put off already by Ann.",
    )
    near.send("/do/answer", alarm=key, answer="taken up again")
    near.send("/do/answer", alarm=key, answer="seen", by="Bo")
    assert said(near, "/do/answer", alarm=key, answer="seen") == (303, "It is seen already by Bo.")
    for _ in range(20):
        yard.read(("b1-t", 22.0, "Cel"), after_ms=HOUR_MS)
    assert said(near, "/do/answer", alarm=key, answer="seen") == (303, "It is over already.")
    answer = near.send("/do/answer", alarm=key, answer="seen")
    assert answer.headers["location"].startswith("/place/b1?done="), "without a way back to the alarm's place"


@pytest.mark.parametrize(
    ("form", "code", "words"),
    [
        ({"kind": "trouble", **STRETCH}, 303, "Marked as trouble."),
        ({"kind": "fine", **STRETCH}, 303, "Marked as fine."),
        ({"kind": "fine", **STRETCH, "drop": "1"}, 303, "No longer marked as fine."),
        ({"kind": "odd", **STRETCH}, 400, "Say whether it was trouble or fine."),
        (
            {"kind": "fine", "from": STRETCH["to"], "to": STRETCH["to"]},
            400,
            "A stretch needs a beginning and a later end.",
        ),
        ({"kind": "fine", "from": STRETCH["to"], "to": "soon"}, 400, "A stretch needs a beginning and a later end."),
        ({"kind": "fine", "from": "", "to": STRETCH["to"]}, 400, "A stretch needs a beginning and a later end."),
    ],
)
def test_a_stretch_is_marked_or_refused(near, form, code, words):
    assert said(near, "/do/mark", place="b1", form="mark", **form) == (code, words)


def test_a_mark_bears_its_remark_on_one_line_and_who_made_it(near, marks):
    near.send("/do/mark", place="b1", kind="trouble", note=" lid\nshut " + "x" * 400, by="Ann", **STRETCH)
    ((place, mark, by),) = marks.kept
    assert (place, mark.start, mark.end, by) == ("b1", NOW - 2 * HOUR_MS, NOW, "Ann")
    assert mark.note == "lid shut " + "x" * 390
    text = near.get("/place/b1").text
    assert "Stretches marked as trouble or fine (1)" in text
    assert "trouble: Mon 20 Jul 2026, 06:00 to Mon 20 Jul 2026, 08:00 (lid shut x" in text


def test_a_page_without_marks_and_certificates_offers_neither(yard):
    near = browser(page_of(yard)[0])
    text = near.get("/place/p1").text
    assert "Stretches marked" not in text
    assert "Make a certificate" not in text
    for path in ("/do/mark", "/do/certificate"):
        assert near.send(path, place="p1", kind="fine", **STRETCH).status_code == 404
    assert near.get("/days/p1").status_code == near.get("/certificate/x.pdf").status_code == 404


class Refusing(Papers):
    """Makes no certificate."""

    def make(self, batch, by):
        raise MisuseError(f"{batch} cannot be judged.")


def test_a_certificate_bears_who_made_it_and_a_refusal_is_told(near, yard, papers):
    assert said(near, "/do/certificate", place="p1", by="Ann") == (303, "Certificate made: not proven.")
    (name,) = papers.made
    assert papers.made[name] == "Ann"
    text = near.get("/place/p1").text
    assert f'<a href="/certificate/{name}">Certificate of Mon 20 Jul 2026, 08:00</a>: met' in text
    headers = near.get(f"/certificate/{name}").headers
    assert headers["content-disposition"] == f'inline; filename="{name}"'
    assert said(near, "/do/certificate", place="b1") == (400, "Nothing lies here that could be certified.")
    refused = browser(page_of(yard, certifying=Refusing())[0])
    assert said(refused, "/do/certificate", place="p1")[1].endswith("cannot be judged.")


def test_what_is_done_stands_in_the_log_with_who_did_it(near, yard, caplog, monkeypatch):
    with caplog.at_level(logging.INFO, "heaptender.page"):
        near.send("/do/work", place="p1", kind="watered", by="Ann")
        near.send("/do/work", place="p1", kind="turned")
        near.send("/do/work", place="p1", kind="turned")
        monkeypatch.setattr(yard, "put", lambda kind, payload, again: Done(None, "Not now."))
        near.send("/do/work", place="p1", kind="watered")
    told = [one.getMessage() for one in caplog.records if one.name == "heaptender.page"]
    assert told[0].startswith("p1, work: watered")
    assert told[1] == f"p1, work: turned ({SOMEBODY})."
    assert told[2].startswith(f"Asked of {SOMEBODY}, p1: turned: ")
    assert told[3] == f"Refused to {SOMEBODY}, p1: watered: Not now."


def test_somebody_elsewhere_without_a_name_is_known_by_the_address(open_page, yard):
    _, _, keeper = open_page
    keeper().send("/do/work", place="p1", kind="watered")
    assert yard.works()[0]["by"] == "somebody at 192.0.2.20"


def test_the_way_back_keeps_what_was_asked_and_drops_the_old_undo(near):
    answer = near.send("/do/work", place="p1", kind="watered", back="/place/p1?span=day&done=old&x=1%262")
    where = answer.headers["location"]
    assert where.startswith("/place/p1?span=day&x=1%262&done=")
    assert "old" not in where.partition("done=")[2][:4]
    assert near.send("/do/seen").headers["location"].startswith("/?done=")


def test_an_action_can_be_undone_for_a_day(monkeypatch):
    from monitor.page.shared import just_done

    now = [1_000.0]
    monkeypatch.setattr(just_done.time, "time", lambda: now[0])
    tokens = DoneTokens(b"k" * 32)
    done = JustDone("p1", "watered", 7, (5, "hand:p1"))
    token = tokens.token(done)
    now[0] += UNDO_S - 1
    assert tokens.read(token) == done
    now[0] += 1
    assert tokens.read(token) is None
    assert tokens.read("") is None
    assert UNDO_S == 86_400


def form_of(number):
    return {"entry": f"entry-{number:010}"}


def test_of_forms_with_an_id_the_newest_two_thousand_are_remembered():
    once = Once()
    for number in range(MOST + 1):
        once.keep(form_of(number), f"/{number}")
    assert (once.led(form_of(0)), once.led(form_of(1)), once.led(form_of(MOST))) == ("", "/1", f"/{MOST}")
    assert MOST == 2_000


@pytest.mark.parametrize(("entry", "kept"), [("x" * 16, True), ("x" * 15, False), ("x" * 64, True), ("x" * 65, False)])
def test_an_id_of_a_form_is_of_sixteen_to_sixty_four_letters(entry, kept):
    once = Once()
    once.keep({"entry": entry}, "/place/p1")
    once.keep({}, "/place/p2")
    assert once.led({"entry": entry}) == ("/place/p1" if kept else "")
    assert once.led({}) == ""


def test_a_form_may_come_a_year_late():
    assert LATEST_MS == 366 * DAY_MS
    when = at_its_time({"late_ms": "0" * 6 + "600000"}, NOW)["when"]
    assert when == "2026-07-20T11:50:00+00:00"
    assert "when" not in at_its_time({"late_ms": "0" * 7 + "600000"}, NOW), "no browser sends such a number"


def test_marks_and_papers_of_a_bin_are_its_own(yard):
    marks = Marks()
    near = browser(page_of(yard, marking=marks, certifying=Papers())[0])
    near.send("/do/mark", place="b1", kind="fine", **STRETCH)
    assert "Stretches marked as trouble or fine (0)" in near.get("/place/p1").text
    assert "Make a certificate" not in near.get("/place/b1").text
