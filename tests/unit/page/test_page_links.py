"""Links in messages: signed, with an end, for one thing only; and where the others lead."""

from dataclasses import replace
from types import SimpleNamespace

import pytest
from page_visitor import browser
from page_yard_for_tests import page_of

from monitor.app.loop.loop_faults import fault, fault_over
from monitor.app.page_ports.page_service import notice_links
from monitor.configuration import Page
from monitor.model.alarm_kinds import Alarm
from monitor.model.effects import EffectKind
from monitor.model.times import DAY_MS
from monitor.model.words import AlarmState
from monitor.page import SeenLink, place_address
from monitor.page.visitors.message_links import SEEN_LASTS_MS, seen_token

KEY = "b1/worms-in-danger"


@pytest.fixture
def told(yard):
    """The newest notice about the hot bin."""
    with yard.look() as look:
        return [
            effect
            for effect in look.effects(0, yard.clock)
            if effect.draft.kind is EffectKind.NOTICE and KEY in effect.draft.values.get("keys", ())
        ][-1]


@pytest.fixture
def phone(yard, password):
    app, page = page_of(yard, password_hash=password[1], link="http://yard.example:8460")
    return browser(app, host="yard.example:8460", address="192.0.2.7"), page


def test_the_link_says_seen_and_lets_nobody_in(yard, told, phone):
    client, page = phone
    path = f"/m/{seen_token(page.key, SeenLink(told.at, 'ann'))}"
    first, token = client.get(path), client.token(path)
    assert "I'll see to it" in first.text
    assert "Written Mon 20 Jul 2026, " in first.text, "so that its *today* and *yesterday* can be read"
    assert "WORMS IN DANGER" in first.text
    assert yard.alarms[KEY].state is AlarmState.UNACKNOWLEDGED
    answer = client.send(path, page=path)
    assert "is on it" in answer.text
    assert yard.alarms[KEY].state is AlarmState.ACKNOWLEDGED
    assert yard.put_in[-1][1] == {"alarm": KEY, "answer": "seen", "by": "Ann"}
    assert "somebody has answered it already" in client.get(path).text
    assert client.get("/", follow_redirects=False).status_code == 303
    assert client.post("/do/work", data={"place": "p1", "kind": "turned", "token": token}).status_code == 401


def test_the_link_serves_a_browser_that_keeps_no_cookies(yard, told, phone):
    client, page = phone
    path = f"/m/{seen_token(page.key, SeenLink(told.at, 'ann'))}"
    token = client.token(path)
    client.cookies.clear()
    answer = client.post(path, data={"token": token})
    assert answer.status_code == 200
    assert "is on it" in answer.text
    assert yard.alarms[KEY].state is AlarmState.ACKNOWLEDGED
    # From another site nobody may press it, known or not.
    elsewhere = client.post(path, data={"token": token}, headers={"sec-fetch-site": "cross-site"})
    assert elsewhere.status_code == 403


def test_the_link_ends(yard, told, phone):
    client, page = phone
    path = f"/m/{seen_token(page.key, SeenLink(told.at, 'ann'))}"
    yard.clock = told.at + SEEN_LASTS_MS + 1
    assert client.get(path).status_code == 404


def test_a_changed_link_is_refused(told, phone):
    client, page = phone
    token = seen_token(page.key, SeenLink(told.at, "ann"))
    for wrong in (token[:-1], token[:-3] + "AAA", "x" + token, seen_token(b"x" * 32, SeenLink(told.at, "ann"))):
        assert client.get(f"/m/{wrong}").status_code == 404


def test_a_link_about_nothing_is_told(yard, phone):
    client, page = phone
    path = f"/m/{seen_token(page.key, SeenLink(yard.clock - DAY_MS, 'ann'))}"
    assert client.get(path).status_code == 404


def test_places_have_addresses():
    assert place_address("http://yard.example", "p1") == "http://yard.example/place/p1"
    assert place_address("http://yard.example", "") == "http://yard.example/"


def test_messages_lead_to_the_place_and_to_a_seen_link(yard, told):
    def row(**more):
        kept = {"at": told.at, "contact": "ann", "place": "b1", "occasion": "new", **more}
        return SimpleNamespace(**kept)

    page = Page(link="http://yard.example:8460")
    configuration = replace(yard.configuration, page=page, data=yard.folder)
    links = notice_links(lambda: configuration, yard.writer)
    link, seen = links(row())
    assert link == "http://yard.example:8460/place/b1"
    assert seen.startswith("http://yard.example:8460/m/")
    assert links(row(occasion="digest")) == ("http://yard.example:8460/away", "")
    assert links(row(place="ambient", at=1))[0] == "http://yard.example:8460/"
    near = replace(yard.configuration, data=yard.folder)
    assert notice_links(lambda: near, yard.writer)(row()) == ("http://127.0.0.1:8460/place/b1", "")


def test_no_message_leads_to_a_page_that_is_away_or_off(yard, told):
    """Least of all the one that says that it is away."""
    row = SimpleNamespace(at=told.at, contact="ann", place="b1", occasion="new")
    digest = SimpleNamespace(at=told.at, contact="ann", place="", occasion="digest")
    there = replace(yard.configuration, page=Page(link="http://yard.example:8460"), data=yard.folder)
    links = notice_links(lambda: there, yard.writer)

    def turn(event):
        yard.clock += 1000
        with yard.writer.turn(yard.clock) as one:
            one.event(*event)

    turn(fault(Alarm.PAGE, "port 8460 is taken"))
    assert links(row) == links(digest) == ("", "")
    turn(fault_over(Alarm.PAGE))
    assert links(row)[0] == "http://yard.example:8460/place/b1"
    off = replace(there, page=replace(there.page, on=False))
    assert notice_links(lambda: off, yard.writer)(row) == ("", "")
