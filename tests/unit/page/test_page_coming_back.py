"""After a form the sheet is the one that it came from: the same place, the same span, also after a mistake."""

import re

import pytest

from monitor.page.visitors.own_paths import own_path


def fields(text, part):
    """Return the hidden fields of the first form of a part of a sheet."""
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', text[text.index(part) :].split("</form>")[0]))


@pytest.mark.parametrize(
    ("path", "wrong", "right"),
    [
        ("/do/reading", {"value": "abc"}, {"value": "84.5"}),
        ("/do/work", {"kind": "watered", "amount": "a lot"}, {"kind": "watered", "amount": "20", "measure": "gal"}),
        ("/do/work", {"kind": "note", "note": " "}, {"kind": "note", "note": "steam"}),
    ],
)
def test_a_corrected_form_leads_back_to_its_place(yard, near, path, wrong, right):
    answer = near.send(path, place="p1", back="/place/p1", **wrong)
    assert answer.status_code == 400
    kept = fields(answer.text, f'action="{path}"')
    assert kept["back"] == "/place/p1"
    assert "/do/" not in re.sub(r'action="[^"]*"', "", answer.text)
    answer = near.send(path, place="p1", back=kept["back"], **right)
    assert answer.headers["location"].startswith("/place/p1?done=")
    text = near.get(answer.headers["location"]).text
    assert "Written down" in text
    assert ">Undo<" in text


def test_a_mark_is_corrected_likewise(near):
    form = {"place": "b1", "kind": "trouble", "from": "", "to": ""}
    assert fields(near.send("/do/mark", **form).text, 'action="/do/mark"')["back"] == "/place/b1"


def test_no_address_that_takes_forms_is_a_way_back(near):
    assert own_path("/do/reading") == "/"
    answer = near.send("/do/reading", place="p1", value="84.5", back="/do/reading")
    assert answer.headers["location"].startswith("/?done=")


def test_what_is_written_keeps_the_span_that_was_looked_at(near):
    text = near.get("/place/p1?span=day").text
    assert fields(text, 'action="/do/work"')["back"] == "/place/p1?span=day"
    answer = near.send("/do/work", place="p1", kind="watered", back="/place/p1?span=day")
    assert answer.headers["location"].startswith("/place/p1?span=day&done=")
    again = near.get(answer.headers["location"]).text
    assert re.search(r'href="/place/p1\?span=day[^"]*" aria-current="true"', again)
    assert fields(again, 'action="/do/work"')["back"] == "/place/p1?span=day", "without the old undo"
    # And a mistake keeps it too.
    wrong = near.send("/do/work", place="p1", kind="watered", amount="x", back="/place/p1?span=day")
    assert re.search(r'href="/place/p1\?span=day[^"]*" aria-current="true"', wrong.text)


def test_a_guest_link_is_shown_on_the_sheet_of_people(near):
    answer = near.send("/do/guest", name="a neighbour")
    assert 'href="/people" aria-current="page"' in answer.text


def test_a_guest_is_told_that_a_sheet_names_people(open_page):
    elsewhere, _, near = open_page
    made = near().send("/do/guest", name="a neighbour").text
    guest = elsewhere()
    guest.get(re.search(r"http://yard\.example:8460(/guest/[^<]+)<", made)[1])
    for path in ("/before", "/away"):
        answer = guest.get(path)
        assert answer.status_code == 403
        assert "Not for everybody" in answer.text
        assert "Tern Hollow allotments" in answer.text, "the yard keeps its name on such a sheet"


@pytest.mark.parametrize(
    ("since", "words"),
    [("2020-01-01T10:00", "more than a year ago"), ("2031-01-01T10:00", "still to come"), ("x", "That is no time")],
)
def test_a_since_that_cannot_be_is_told(near, since, words):
    text = near.get(f"/away?since={since}").text
    assert words in text
    assert 'aria-invalid="true"' in text


def test_the_first_since_does_not_creep_with_the_clock(yard, near):
    def shown():
        return re.search(r'name="since"[^>]* value="([^"]+)"', near.get("/away").text)[1]

    first = shown()
    assert first == "2026-07-17T16:00", "Monday morning: since Friday afternoon"
    yard.clock += 40 * 60_000
    assert shown() == first


def test_a_form_that_a_browser_sent_twice_is_written_down_once(yard, near):
    form = {"place": "p1", "kind": "watered", "amount": "20", "measure": "L", "entry": "a1b2c3d4e5f6a7b8c9d0"}
    first, second = near.send("/do/work", **form), near.send("/do/work", **form)
    assert first.status_code == second.status_code == 303
    assert first.headers["location"] == second.headers["location"]
    assert len(yard.works()) == 1
    near.send("/do/work", **{**form, "entry": "another-entry-of-today"}, again="1")
    assert len(yard.works()) == 2


def test_a_form_that_was_kept_bears_the_time_at_which_it_was_pressed(yard, near):
    now = yard.clock
    near.send("/do/work", place="p1", kind="watered", late_ms=str(40 * 60_000))
    assert yard.works()[-1]["time"] == now - 40 * 60_000
    near.send("/do/work", place="p1", kind="watered", late_ms=str(40 * 60_000), when="2026-07-20T07:30", again="1")
    assert yard.works()[-1]["time"] == 1_784_547_000_000, "what a person typed goes first"
    near.send("/do/work", place="p1", kind="watered", late_ms="-5")
    assert yard.works()[-1]["time"] == yard.clock - 1000, "nonsense says nothing"


def test_other_work_begins_with_no_kind_and_errs_in_its_own_form(yard, near):
    text = near.get("/place/b1").text
    assert '<option value="">choose …</option>' in text
    answer = near.send("/do/work", place="b1", form="other", kind="fed", amount="5", when="2040-01-01T10:00")
    form = answer.text[answer.text.index('data-key="other"') :].split("</details></form>")[0]
    assert '<details class="quick" data-key="other" open' in answer.text
    assert '<details class="quick" data-key="fed" open' not in answer.text
    assert "lies in the future" in form
    assert 'value="5"' in form
    assert near.send("/do/work", place="b1", form="other", kind="").status_code == 400
    assert yard.works() == []


def test_a_guest_reads_no_name_of_who_measured(yard, open_page):
    elsewhere, _, near = open_page
    near().send("/do/work", place="p2", kind="built", when="2026-07-19T08:00", form="other", again="1")
    near().send("/do/reading", place="p2", value_1="141", by="Ann")
    assert "Ann" in near().get("/").text
    made = near().send("/do/guest", name="a neighbour").text
    guest = elsewhere()
    guest.get(re.search(r"http://yard\.example:8460(/guest/[^<]+)<", made)[1])
    for path in ("/", "/place/p2"):
        text = guest.get(path).text
        assert "by hand" in text
        assert "Ann" not in text


def test_a_guest_link_says_who_made_it_and_leads_a_keeper_to_the_yard(near):
    assert re.search(r"a neighbour, made [\d:]+ by a keeper<", near.send("/do/guest", name="a neighbour").text)
    near.send("/name", name="Ann")
    made = near.send("/do/guest", name="another")
    assert re.search(r"another, made [\d:]+ by Ann<", made.text)
    opened = near.get(re.search(r"(/guest/[\w-]+)<", made.text)[1], follow_redirects=False)
    assert (opened.status_code, opened.headers["location"]) == (303, "/")
    assert "set-cookie" not in opened.headers, "a keeper stays one"


@pytest.mark.parametrize(
    ("place", "forms"),
    [
        ("p1", ["watered", "added", "reading", "note", "other"]),
        (
            "b1",
            ["fed", "watered", "bedded", "harvested", "screened", "sampled", "inspected", "reading", "note", "other"],
        ),
    ],
)
def test_a_place_has_a_form_for_what_is_often_done_there_and_one_for_all_else(near, place, forms):
    text = near.get(f"/place/{place}").text
    assert re.findall(r'class="quick[^"]*" data-key="([^"]+)"', text) == forms


def test_a_visitor_gets_a_cookie_once(near):
    assert "set-cookie" in near.get("/").headers
    assert "set-cookie" not in near.get("/").headers
