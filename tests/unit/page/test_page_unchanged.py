"""A browser that has a sheet already is sent nothing of it again, and whatever changed makes it another sheet."""

import re

import pytest

from monitor.model.times import MINUTE_MS


def mark(answer):
    assert answer.headers["etag"] == '"' + re.search(r'data-mark="(\w+)"', answer.text)[1] + '"'
    return answer.headers["etag"]


def again(near, path, known):
    return near.get(path, headers={"if-none-match": known})


@pytest.mark.parametrize("path", ["/", "/place/p2", "/diary", "/people"])
def test_an_unchanged_sheet_is_not_sent_again(near, path):
    known = mark(near.get(path))
    answer = again(near, path, known)
    assert (answer.status_code, answer.content) == (304, b"")
    assert len(str(dict(answer.headers))) < 1_000
    assert again(near, path, f"W/{known}").status_code == 304


def test_it_says_how_fresh_it_is_all_the_same(yard, near):
    known = mark(near.get("/"))
    yard.clock += MINUTE_MS // 2
    answer = again(near, "/", known)
    assert answer.status_code == 304
    assert answer.headers["x-stood"] == "Mon 20 Jul 2026, 08:00"
    assert answer.headers["x-day"] == "Mon 20 July, 08:00"


def test_whatever_changed_makes_it_another_sheet(yard, near):
    known = mark(near.get("/"))
    near.send("/do/answer", alarm="b1/worms-in-danger", answer="seen")
    answer = again(near, "/", known)
    assert answer.status_code == 200
    known = mark(answer)
    yard.read(("b1-t", 33.0, "Cel"))
    assert again(near, "/", known).status_code == 200


def test_anothers_sheet_is_another(near, yard):
    known = mark(near.get("/"))
    near.send("/name", name="Ann")
    assert again(near, "/", known).status_code == 200, "the name beside what she writes"


def test_a_fault_and_a_form_bear_no_mark(near):
    assert "etag" not in near.get("/place/nowhere").headers
    assert "etag" not in near.send("/do/reading", place="b1", value="abc").headers
