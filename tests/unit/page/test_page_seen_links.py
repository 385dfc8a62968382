"""What a link in a message shows, to whom, where it leads on, and when it ends."""

import html
import re
from contextlib import contextmanager

import pytest
from page_visitor import browser
from page_yard_for_tests import NOW, page_of

from monitor.model.effects import Draft, Effect, EffectKind
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.page import Done, SeenLink
from monitor.page.visitors.message_links import SEEN_LASTS_MS, read_seen, seen_address, seen_token


@pytest.fixture
def phone(yard, password):
    app, page = page_of(yard, password_hash=password[1], link="http://yard.example:8460")
    return browser(app, host="yard.example:8460", address="192.0.2.7"), page


def notice(yard, keys, *, contact="ann", text="WORDS.", after_ms=HOUR_MS):
    """Put a notice into the record of what the look shows, and return when it was decided."""
    at = NOW - after_ms
    draft = Draft(
        place="", kind=EffectKind.NOTICE, axis="new", before=None, after=contact, why="", since=at, reason="", text=text,
        values={"keys": keys},
    )  # fmt: skip
    return at, Effect(at=at, ordinal=0, draft=draft)


@pytest.fixture
def written(yard, monkeypatch):
    """Return a list of effects that the record then holds beside its own."""
    more, real = [], yard.look

    @contextmanager
    def look():
        with real() as one:
            own = one.effects
            one.effects = lambda after, until, place=None: [
                *own(after, until, place), *(each for each in more if after < each.at <= until),
            ]  # fmt: skip
            yield one

    monkeypatch.setattr(yard, "look", look)
    return more


def onward(phone, at, contact="ann"):
    client, page = phone
    text = client.get(f"/m/{seen_token(page.key, SeenLink(at, contact))}").text
    return re.search(r'class="onward" href="([^"]+)">([^<]+)<', text).groups(), text


@pytest.mark.parametrize(
    ("keys", "leads"),
    [
        (["p1/fire"], ("/place/p1", "Open it on the page")),
        (["b1/worms-in-danger"], ("/place/b1", "Open it on the page")),
        (["b1/worms-in-danger", "p1/fire"], ("/", "Open the yard&#39;s page")),
        (["p1/rule-met"], ("/", "Open the yard&#39;s page")),
        ([], ("/", "Open the yard&#39;s page")),
    ],
)
def test_a_link_leads_on_to_the_one_place_that_it_is_about(yard, phone, written, keys, leads):
    yard.burn()
    at, told = notice(yard, keys)
    written.append(told)
    found, text = onward(phone, at)
    assert found == (leads[0], html.unescape(leads[1])) or found == leads
    assert ("It asks for no answer." in text) is (leads[0] == "/" and len(keys) < 2)
    assert ("I'll see to it" in text) is bool(keys and keys != ["p1/rule-met"])


def test_a_link_shows_what_one_contact_was_told_at_one_instant(yard, phone, written):
    at, mine = notice(yard, ["b1/worms-in-danger"], text="MINE.\nSecond line.")
    written.append(mine)
    written.append(notice(yard, ["p1/fire"], contact="bo", text="THEIRS.")[1])
    written.append(notice(yard, ["p1/fire"], text="EARLIER.", after_ms=HOUR_MS + 1)[1])
    written.append(notice(yard, ["p1/fire"], text="LATER.", after_ms=HOUR_MS - 1)[1])
    _, text = onward(phone, at)
    assert "<p>MINE.</p>" in text
    assert "<p>Second line.</p>" in text
    assert not any(words in text for words in ("THEIRS", "EARLIER", "LATER"))
    assert "<h1>To Ann</h1>" in text
    assert "<h1>To bo</h1>" in onward(phone, at, "bo")[1], "a contact that is gone keeps its id"


def test_a_link_that_the_writer_refuses_says_why(yard, phone, written, monkeypatch):
    at, told = notice(yard, ["b1/worms-in-danger"])
    written.append(told)
    client, page = phone
    path = f"/m/{seen_token(page.key, SeenLink(at, 'ann'))}"
    token = client.token(path)
    monkeypatch.setattr(yard, "put", lambda kind, payload: Done(None, "Not now."))
    answer = client.post(path, data={"token": token})
    assert (answer.status_code, "Not now." in answer.text) == (400, True)


def test_a_seen_link_lasts_a_week_to_the_second():
    key, link = b"k" * 32, SeenLink(NOW, "ann")
    token = seen_token(key, link)
    assert read_seen(key, token, NOW + SEEN_LASTS_MS - 1) == link
    assert read_seen(key, token, NOW + SEEN_LASTS_MS) is None
    assert SEEN_LASTS_MS == 7 * DAY_MS
    assert seen_address("http://yard.example", key, link) == f"http://yard.example/m/{token}"
