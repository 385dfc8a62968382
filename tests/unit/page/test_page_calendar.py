"""Calendar links: one phone, one link, which reads the diary and nothing else until it is withdrawn."""

import logging
import re

import pytest
from icalendar import Calendar
from page_visitor import browser
from page_yard_for_tests import page_of

from monitor.model.errors import UnavailableError
from monitor.page.shared.kept_answer import KeptAnswer
from monitor.page.visitors.calendar_links import CALENDARS_FILE, LASTS_S, CalendarLinks


def make(keeper, name="Ann's phone"):
    answer = keeper.send("/do/calendar", page="/diary", name=name)
    assert answer.status_code == 200
    (address,) = re.findall(r'<code class="made">([^<]+)</code>', answer.text)
    return address


def path_of(address):
    return "/" + address.split("/", 3)[3]


def test_a_phone_without_a_password_reads_the_diary_by_its_link(open_page):
    elsewhere, _, keeper = open_page
    address = make(keeper())
    assert address.startswith("http://yard.example:8460/calendar/")
    answer = elsewhere().get(path_of(address))
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/calendar; charset=utf-8"
    assert answer.headers["cache-control"] == "no-store"
    calendar = Calendar.from_ical(answer.content)
    assert "Bay 1: turn it" in {str(one["summary"]) for one in calendar.walk("VEVENT")}
    assert all(len(line) <= 75 for line in answer.content.split(b"\r\n"))


def test_the_link_lets_nobody_in_and_changes_nothing(open_page):
    elsewhere, page, keeper = open_page
    path = path_of(make(keeper()))
    phone = elsewhere()
    assert phone.get(path).status_code == 200
    assert "/enter" in str(phone.get("/").url)
    assert phone.get("/diary", follow_redirects=False).status_code == 303
    before = page.yard.changed()
    assert phone.post(path, data={"kind": "turned"}).status_code == 403
    assert page.yard.changed() == before


def test_a_withdrawn_link_ends_at_once_and_the_others_stay(open_page):
    elsewhere, _, keeper = open_page
    ann = keeper()
    first, second = path_of(make(ann)), path_of(make(ann, "Ben"))
    (number,) = re.findall(
        r'name="number" value="(\d+)">\s*<button aria-label="Withdraw the calendar link of Ann', ann.get("/diary").text
    )
    assert ann.send("/do/calendar-withdraw", page="/diary", number=number).status_code == 303
    gone = elsewhere().get(first)
    assert gone.status_code == 404
    assert "not in force any more" in gone.text
    assert elsewhere().get(second).status_code == 200


def test_guests_and_strangers_make_no_link_and_see_none(open_page):
    elsewhere, page, keeper = open_page
    make(keeper())
    assert elsewhere().post("/do/calendar", data={"name": "x"}, follow_redirects=False).status_code == 401
    _, secret = page.guests.make("Eve", "Ann", 0)
    guest = elsewhere()
    guest.get(f"/guest/{secret}")
    sheet = guest.get("/diary").text
    assert "turn it" in sheet
    assert "calendar link" not in sheet
    assert "phone" not in sheet
    assert guest.post("/do/calendar", data={"token": "x", "name": "x"}).status_code == 403
    assert [one.name for one in page.calendars.all()] == ["Ann's phone"]


@pytest.mark.parametrize(
    "spoil",
    [
        lambda token: token[:-2] + ("AA" if token[-2] != "A" else "BA"),
        lambda token: "x",
        lambda token: token + "A",
        str.swapcase,
    ],
)
def test_a_wrong_link_opens_nothing_and_guessing_makes_wait(open_page, spoil):
    elsewhere, page, keeper = open_page
    path = path_of(make(keeper()))
    token = path.split("/")[2]
    guesser = elsewhere("198.51.100.3")
    for _ in range(8):
        assert guesser.get(f"/calendar/{spoil(token)}/diary.ics").status_code == 404
    assert page.guest_tries.wait_s("198.51.100.3") > 0
    assert guesser.get(path).status_code == 404, "who guessed waits even with the right one"
    assert elsewhere("192.0.2.9").get(path).status_code == 200


def test_no_log_shows_a_link(open_page, caplog, monkeypatch):
    elsewhere, page, keeper = open_page
    with caplog.at_level(logging.DEBUG):
        path = path_of(make(keeper()))
        elsewhere().get(path)
        page.kept_calendar = KeptAnswer(lambda: 0.0)
        monkeypatch.setattr(page.yard, "look", lambda: 1 / 0)
        assert elsewhere().get(path).status_code == 500
    assert "could not answer GET /calendar/…" in caplog.text
    assert "Calendar link 1 for Ann's phone made by" in caplog.text
    ours = [record.getMessage() for record in caplog.records if record.name.startswith("heaptender")]
    assert not any(path.split("/")[2] in said for said in ours)


def test_the_file_holds_no_secret(tmp_path):
    links = CalendarLinks(tmp_path, b"k" * 32)
    made, token = links.make("phone", "Ann", 5, 0.0)
    kept = (tmp_path / CALENDARS_FILE).read_text()
    assert token not in kept
    assert links.holder(token, 1.0) == made
    assert CalendarLinks(tmp_path, b"k" * 32).holder(token, 1.0) == made, "after a restart as well"
    assert CalendarLinks(tmp_path, b"o" * 32).holder(token, 1.0) is None, "a new key ends every link"
    assert links.holder(token, LASTS_S) is None


def test_fifty_links_are_enough(tmp_path, open_page):
    _, page, keeper = open_page
    for number in range(50):
        page.calendars.make(f"phone {number}", "Ann", 0, 0.0)
    with pytest.raises(UnavailableError, match="There are 50 such links already"):
        page.calendars.make("one more", "Ann", 0, 0.0)
    answer = keeper().send("/do/calendar", page="/diary", name="one more")
    assert answer.status_code == 400
    assert "There are 50 such links already; withdraw one first." in answer.text


def test_where_the_link_leads_here_alone_the_sheet_says_so(yard, near):
    assert "These links lead to this computer alone" in near.get("/diary").text
    app, _ = page_of(yard, link="http://yard.example:8460", hosts=("yard.example",))
    assert "lead to this computer" not in browser(app).get("/diary").text


def test_many_who_ask_at_once_cost_one_look():
    now, made = [0.0], []

    def answer():
        made.append(now[0])
        return b"%d" % len(made)

    kept = KeptAnswer(lambda: now[0])
    assert [kept.get(answer), kept.get(answer)] == [b"1", b"1"]
    now[0] = 59.9
    assert kept.get(answer) == b"1"
    now[0] = 60.0
    assert kept.get(answer) == b"2"
