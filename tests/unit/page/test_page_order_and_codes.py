"""The order of places and needs, texts in parts, codes to scan, suggestions of forms, and other parts of sheets."""

import re

import page_yard_for_tests
import pytest
from page_visitor import browser, words_of
from page_yard_for_tests import NOW, TestYard, page_of

from monitor.model.events import EventKind
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.work import Work, WorkKind
from monitor.page.pictures.qr_code import qr_code
from monitor.page.places.page_times import ago, for_field, from_text, in_full
from monitor.page.places.turning_work import counts_with
from monitor.page.places.work_lines import work_words
from monitor.page.shared.static_files import StaticFiles
from monitor.page.sheets.composed_texts import told_in_parts

MORE = """
[piles.p10]
name = "Bay 10"
[piles.p3]
name = "Bay 3"
built = 2026-07-18T12:00:00Z
[piles.p4]
name = "Bay 4"
built = 2026-07-18T12:00:00Z
[probes.p4-a]
place = "p4"
role = "core"
[bins.b2]
name = "Alder bin"
[probes.b2-t]
place = "b2"
role = "bedding"
[bins.b3]
name = "Birch bin"
[probes.b3-t]
place = "b3"
role = "bedding"
"""


@pytest.fixture
def large(tmp_path, monkeypatch):
    monkeypatch.setattr(page_yard_for_tests, "TOML", page_yard_for_tests.TOML + MORE)
    made = TestYard(tmp_path)
    for _ in range(3):
        made.read(("b2-t", 22.0, "Cel"), ("b3-t", 40.0, "Cel"), ("p4-a", 58.0, "Cel"), after_ms=20 * MINUTE_MS)
    yield made
    made.close()


def order(near):
    return re.findall(r'class="whole" href="/place/(\w+)"', near.get("/").text)


def marks(near):
    return dict(re.findall(r'<li id="at-(\w+)" class="ground (\w+)">', near.get("/").text))


def test_places_stand_in_the_order_of_the_configuration_whatever_happens(large):
    near = browser(page_of(large)[0])
    written = ["p1", "p2", "p10", "p3", "p4", "b1", "b2", "b3"]
    assert list(large.configuration.settings.piles) + list(large.configuration.settings.bins) == written
    assert order(near) == written, "as somebody wrote them down, not by their ids"
    found = marks(near)
    assert (found["b1"], found["b3"]) == ("act", "act"), "both in danger"
    assert (found["p3"], found["p4"], found["b2"]) == ("watch", "well", "well"), "nobody knows how Bay 3 is"
    for key, one in list(large.alarms.items()):
        if one.state.value == "unacknowledged" and key.startswith("b1/"):
            near.send("/do/answer", alarm=key, answer="seen")
    assert order(near) == written


def test_a_danger_that_was_put_off_keeps_its_mark(large):
    near = browser(page_of(large)[0])
    near.send("/do/answer", alarm="b3/worms-in-danger", answer="put off", until="2h")
    assert marks(near)["b3"] == "act"


def test_needs_of_one_urgency_stand_oldest_first_and_then_by_name(yard, near):
    yard.read(("amb", 20.0, "Cel"), after_ms=9 * HOUR_MS)
    told = [one for one in words_of(near.get("/").text, "today") if one.startswith("No word from it since")]
    assert [re.search(r"\((\S+)\)\.", one)[1] for one in told] == ["b1-m", "b1-t", "p1-a", "p1-b"]


# Texts


def test_a_composed_text_is_split_into_headings_and_their_lines():
    told = told_in_parts("Before you go, the yard:\nOpen now:\n- one\n- two\n\nAll is well.\n- three\n- no heading\n")
    assert told.title == "Before you go, the yard"
    assert told.parts == [("Open now", ["one", "two"]), ("All is well.", ["three", "no heading"])]
    assert told_in_parts("Title.\n- a line").parts == [("- a line", [])]
    assert told_in_parts("Title.").title == "Title"


def test_times_are_said_in_full_in_fields_and_by_how_long_ago(yard):
    from zoneinfo import ZoneInfo

    zone = ZoneInfo("America/New_York")
    assert (in_full(NOW, zone), for_field(NOW, zone)) == ("Mon 20 Jul 2026, 08:00", "2026-07-20T08:00")
    assert [ago(NOW - ms, NOW) for ms in (59_999, 60_000, 3 * HOUR_MS, 5 * DAY_MS)] == [
        "just now", "1 min ago", "3 h ago", "5 days ago",
    ]  # fmt: skip
    assert from_text("9" * 14, zone) == 99_999_999_999_999
    assert from_text("9" * 15, zone) is None
    assert from_text("2026-07-20T08:00", zone) == NOW
    assert from_text("-5", zone) is None


def test_work_is_said_on_one_line_cut_to_what_it_holds(yard):
    settings = yard.configuration.settings

    def said(kind, **more):
        return work_words(settings, Work(time=NOW, place="p1", kind=kind, **more))

    assert said(WorkKind.ADDED, amount="2", measure="buckets", what="x" * 60).count("x") in (39, 40)
    assert len(said(WorkKind.NOTE, note="y" * 500)) == 400
    assert said(WorkKind.WATERED, note="y" * 500).count("y") in (399, 400)
    assert said(WorkKind.NOTE, note="a\nb") == "a b"
    assert (
        work_words(settings, Work(time=NOW, place="p1", kind=WorkKind.WATERED, note="wet"), with_note=False)
        == "watered"
    )
    assert work_words(settings, Work(time=NOW, place="p1", kind=WorkKind.NOTE, note="wet"), with_note=False) != "wet"
    assert said(WorkKind.PROBE_OUT, probe="gone-probe") == "gone-probe taken out"


def test_a_turning_counts_with_one_less_than_six_hours_before_it(yard):
    def log(hours):
        payload = {"time": NOW - hours * HOUR_MS, "place": "p1", "kind": "turned", "by": "x"}
        yard.put(EventKind.WORK, payload, again=True)

    def with_which(at, kind=WorkKind.TURNED, place="p1"):
        with yard.look() as look:
            return counts_with(look, Work(time=at, place=place, kind=kind))

    log(10)
    assert with_which(NOW - 4 * HOUR_MS - 1) == NOW - 10 * HOUR_MS
    assert with_which(NOW - 4 * HOUR_MS) is None
    assert with_which(NOW - 11 * HOUR_MS) is None
    assert with_which(NOW - 5 * HOUR_MS, WorkKind.WATERED) is None
    assert with_which(NOW - 5 * HOUR_MS, place="p2") is None


def test_a_code_holds_the_dark_squares_of_the_address_and_a_quiet_border():
    import segno

    address = "http://yard.example:8460/place/p1"
    drawn = qr_code(address, "QR code of Bay 1")
    rows = [bytes(row) for row in segno.make(address, error="m", micro=False).matrix]
    side = len(rows) + 8
    assert f'viewBox="0 0 {side} {side}" width="{4 * side}" height="{4 * side}"' in drawn
    assert 'aria-label="QR code of Bay 1"' in drawn
    dark = set()
    for x, y, run, back in re.findall(r"M(\d+) (\d+)h(\d+)v1h-(\d+)z", drawn):
        assert run == back
        dark |= {(int(x) + step, int(y)) for step in range(int(run))}
    assert dark == {(x + 4, y + 4) for y, row in enumerate(rows) for x, cell in enumerate(row) if cell}
    assert 'aria-label="QR code of this link"' in qr_code(address)


def test_files_are_known_by_their_content_and_a_strange_one_is_told():
    files = StaticFiles()
    address = files.address("page.css")
    assert re.fullmatch(r"/static/page\.css\?[0-9a-f]{10}", address)
    assert StaticFiles().address("page.css") == address
    assert files.answer("page.css").headers["content-type"] == "text/css; charset=utf-8"
    assert files.answer("sheet.js").headers["content-type"] == "text/javascript; charset=utf-8"
    strange = files.answer("page.py")
    assert (strange.status_code, strange.body) == (404, b"There is no such file.")
    with pytest.raises(KeyError):
        files.address("page.py")


def test_the_typeface_comes_later_and_under_an_address_of_its_content(near):
    files = StaticFiles()
    before = files.address("page.css")
    assert files.faces == []
    assert b"@font-face" not in files.answer("page.css").body
    files.dress({"regular": b"wOF2 one", "bold": b"wOF2 two", "italic": b"wOF2 three"})
    assert files.address("page.css") != before
    address = files.address("regular.woff2")
    assert f'url("{address}")'.encode() in files.answer("page.css").body
    assert files.faces == [address, files.address("bold.woff2")]
    sent = files.answer("regular.woff2")
    assert (sent.body, sent.headers["content-type"]) == (b"wOF2 one", "font/woff2")
    assert sent.headers["cache-control"] == "public, max-age=31536000, immutable"
    assert "preload" not in near.get("/").text, "no cut is there, none is asked for"


# Sheets


@pytest.mark.parametrize(
    ("since", "wrong"),
    [
        ("2026-07-20T08:00", ""),
        ("2026-07-20T08:01", "That is still to come;"),
        ("2025-07-19T08:00", ""),
        ("2025-07-19T07:59", "That is more than a year ago;"),
        ("soon", "That is no time;"),
        ("", ""),
    ],
)
def test_the_text_since_a_time_begins_there_or_says_why_not(near, since, wrong):
    text = near.get(f"/away?since={since}").text
    shown = re.search(r'name="since"[^>]* value="([^"]+)"', text)[1]
    instead = "it is shown since the last working day&#39;s end instead."
    assert shown == (since if since and not wrong else "2026-07-17T16:00")
    assert (f"{wrong} {instead}" in text) is bool(wrong)


def test_what_was_used_last_is_offered_again_for_ninety_days(yard, near):
    def offered(kind):
        form = near.get("/place/p1").text.split(f'name="kind" value="{kind}"')[1].split("</select>")[0]
        return re.search(r'name="amount"[^>]* value="([^"]*)"', form)[1], re.findall(r"<option>([^<]+)<", form)[0]

    def log(days, amount, measure):
        payload = {
            "time": NOW - days * DAY_MS,
            "place": "p1",
            "kind": "watered",
            "amount": amount,
            "measure": measure,
            "by": "x",
        }
        yard.put(EventKind.WORK, payload, again=True)

    usual = offered("watered")
    assert usual[0] == ""
    log(91, "7", "buckets")
    assert offered("watered") == usual
    log(89, "3", "barrows")
    assert offered("watered") == ("3", "barrows")
    log(1, "2", "buckets")
    assert offered("watered") == ("2", "buckets")
    assert offered("added")[0] == "", "of the same kind of work"


def test_a_pile_offers_the_other_piles_as_targets_and_a_bin_none(near):
    heap = near.get("/place/p1").text
    targets = heap.split('<select name="to"')[1].split("</select>")[0]
    assert re.findall(r'<option value="(\w*)">([^<]*)<', targets) == [("", ""), ("p2", "Bay 2")]
    assert "for moved, split, merged" in heap
    assert '<select name="to"' not in near.get("/place/b1").text


def test_people_are_offered_as_names_and_who_can_reach_the_page_is_told(yard, near, password):
    text = near.get("/people").text
    assert '<option value="Ann"></option>' in text
    assert "Only this computer can open the page" in text
    assert "Sign out on this device" not in text
    for more, words in (
        ({}, "The page listens on its own computer only; a program there may pass it on."),
        ({"listen": "0.0.0.0"}, "The page listens on 0.0.0.0. Everybody is asked for the password."),
    ):
        from page_visitor import signed_in

        app, _ = page_of(yard, password_hash=password[1], link="http://yard.example:8460", **more)
        text = signed_in(app, host="yard.example:8460").get("/people").text
        assert words in text
        assert "Sign out on this device" in text


def test_labels_stand_in_natural_order_of_their_names(large):
    text = browser(page_of(large)[0]).get("/labels").text
    names = re.findall(r'<h2 class="\w+">([^<]+)</h2>', text)
    assert names == ["Alder bin", "Bay 1", "Bay 2", "Bay 3", "Bay 4", "Bay 10", "Birch bin", "Sunny wall bin"]
    assert text.count("Worm bin, ") == 3
    assert text.count("Compost pile, ") == 5


def test_a_guest_reads_how_places_are_watched_without_names(open_page, yard):
    elsewhere, page, keeper = open_page
    ann = keeper()
    ann.send("/do/work", place="p2", kind="built", when="2026-07-19T08:00", form="other", again="1")
    ann.send("/do/reading", place="p2", value_1="141", by="Ann", again="1")
    _, secret = page.guests.make("a neighbour", "Ann", 0)
    guest = elsewhere()
    guest.get(f"/guest/{secret}")
    (told,) = words_of(guest.get("/").text, "watched")
    assert "1 read by hand (Bay 2" in told
    assert "Ann" not in told
    assert "Ann" in words_of(ann.get("/").text, "watched")[0]
    yard.read(("amb", 20.0, "Cel"), after_ms=9 * HOUR_MS)
    (told,) = words_of(guest.get("/").text, "watched")
    assert "read by hand (Bay 2: 08:00)" in told, "when it was read, not when somebody looks"
