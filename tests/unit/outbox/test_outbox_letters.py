"""What a message shows, and what it never shows."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from outbox_fakes import START, Row

from monitor.outbox import AppriseChannel, DeliveryError, Heartbeat, MqttChannel, letter


def of(row: Row):
    return letter(row, site="Tern Hollow", place="Sunny wall bin", link="http://127.0.0.1:8460/n/7kq2m", head="ab12")


def test_a_message_shows_its_id_and_its_link_and_keeps_the_text() -> None:
    made = of(Row(1))
    assert made.title == "Sunny wall bin: overheating [7kq2m]"
    assert made.body == ("Sunny wall bin: overheating.\nhttp://127.0.0.1:8460/n/7kq2m\nTern Hollow, notice 7kq2m")


def test_the_head_stands_in_the_digest() -> None:
    assert "ab12" not in of(Row(1)).body
    assert "Head of the record: ab12" in of(Row(1, occasion="digest")).body


def test_the_highest_priority_says_so() -> None:
    assert of(Row(1, priority=4)).title.startswith("URGENT: ")


def test_without_a_place_the_yard_is_named() -> None:
    made = letter(Row(1, place="", text="Tern Hollow: nothing to do."), site="Tern Hollow", place="", link="", head="")
    assert made.title == "Tern Hollow: nothing to do [7kq2m]"
    assert made.body.count("\n") == 1


def test_mqtt_gets_json_on_its_topic() -> None:
    published: list[tuple[str, bytes]] = []
    MqttChannel("yard/bell", lambda topic, payload: published.append((topic, payload))).send(
        of(Row(1, maybe_repeat=True))
    )
    topic, payload = published[0]
    assert topic == "yard/bell"
    assert json.loads(payload) == {
        "at": "2026-03-01T09:00:00.000Z",
        "contact": "anna",
        "head": "ab12",
        "link": "http://127.0.0.1:8460/n/7kq2m",
        "may_be_a_repeat": True,
        "notice": "7kq2m",
        "occasion": "new",
        "place": "b1",
        "priority": 2,
        "site": "Tern Hollow",
        "text": "Sunny wall bin: overheating.",
    }
    assert START == 1_772_355_600_000


HEAD_ENDS = st.sampled_from(["\r\n", "\n", "\r", "\x0b", "\x0c", "\x1c", "\x85", "\u2028", "\u2029"])


@given(before=st.text(max_size=20), end=HEAD_ENDS, occasion=st.sampled_from(["new", "repeat", "group", "digest"]))
def test_a_mails_subject_is_one_line_whatever_the_names_hold(before: str, end: str, occasion: str) -> None:
    name = f"{before}{end}Bcc: eve@example.org"
    made = letter(Row(1, text=f"{name}: hot.", occasion=occasion), site=name, place=name, link="", head="")
    assert len(made.title.splitlines()) == 1


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_a_url_of_no_service_is_told_without_its_secret() -> None:
    with pytest.raises(DeliveryError) as caught:
        AppriseChannel("nosuchscheme://hunter2@host/hunter2").check()
    assert "nosuchscheme" in str(caught.value)
    assert "hunter2" not in str(caught.value)
    assert "hunter2" not in repr(AppriseChannel("json://hunter2"))


@pytest.mark.parametrize("url", ["ftp://host/x", "file:///etc/passwd", "host", "http://"])
def test_a_heartbeat_needs_a_web_address(url: str) -> None:
    with pytest.raises(ValueError, match="web server"):
        Heartbeat(url)


@pytest.mark.parametrize(
    ("text", "occasion", "title"),
    [
        (
            "Sunny wall bin: b1-a shows 194.2 °F (fire limit 180 °F) since 16:14, which may not be true. Look at it.",
            "new",
            "Sunny wall bin: b1-a shows 194.2 °F",
        ),
        (
            "Sunny wall bin: WORMS IN DANGER, 37 °C (limit 35 °C) since 20:11. Cool it.",
            "new",
            "Sunny wall bin: WORMS IN DANGER, 37 °C",
        ),
        (
            "FIRE DANGER at Sunny wall bin: 85 °C (limit 82.2 °C). Keep off.",
            "new",
            "FIRE DANGER at Sunny wall bin: 85 °C",
        ),
        (
            "Still on after 2 h: Sunny wall bin: overheating, 31 °C.",
            "repeat",
            "Sunny wall bin: overheating, 31 °C, still on",
        ),
        (
            "Sunny wall bin: WORMS IN DANGER, 37 °C (limit 35 °C) since 20:11. Cool it. (Not known to be over after 2 h.)",
            "repeat",
            "Sunny wall bin: WORMS IN DANGER, 37 °C, not known to be over",
        ),
        (
            "Passed on to you, Yard keeper did not answer: Sunny wall bin: no word from b1-t since 13:30, last reading 22 °C.",
            "passed on",
            "Sunny wall bin: no word from b1-t",
        ),
        (
            "Take all probes out first: Sunny wall bin has been due for turning since 15:05, not turned yet. Turn it.",
            "new",
            "Sunny wall bin is due for turning",
        ),
        (
            "Bay 1: too hot, 77 °C, and 2 more.\n1. Bay 1: too hot, 77 °C (limit 76.7 °C)\n2. Sunny wall bin: cold",
            "group",
            "Bay 1: too hot, 77 °C, and 2 more",
        ),
        (
            "Digest of Tern Hollow: Bay 1: too hot, 77 °C, and 1 more open; Wed 4 Mar, since yesterday 07:30.\nOpen now:",
            "digest",
            "Digest of Tern Hollow: Bay 1: too hot, 77 °C, and 1 more open",
        ),
        ("word " * 40, "new", "Sunny wall bin: " + ("word " * 15).strip() + " …"),
        ("", "new", "Sunny wall bin"),
    ],
)
def test_the_subject_says_what_is_wrong(text: str, occasion: str, title: str) -> None:
    assert of(Row(1, text=text, occasion=occasion)).title == f"{title} [7kq2m]"
