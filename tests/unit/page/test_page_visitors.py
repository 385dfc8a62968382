"""Who may come in, by the parts themselves: names of hosts, sessions and their ends, guest links, the files that keep them."""

import json
import logging
from pathlib import Path

import pytest

from monitor.model.errors import UnavailableError
from monitor.page.visitors.ended_sessions import ENDED_FILE, EndedSessions
from monitor.page.visitors.guest_book import GUESTS_FILE, GuestBook
from monitor.page.visitors.hosts import asked_from, host_fits, host_name, is_elsewhere, is_loopback, was_passed_on
from monitor.page.visitors.own_paths import own_path
from monitor.page.visitors.page_key import KEY_FILE, load_key
from monitor.page.visitors.private_file import write_private
from monitor.page.visitors.sessions import Sessions, Standing, tidy_name

KEY = b"k" * 32
DAY_S, HOUR_S = 86_400, 3_600


@pytest.mark.parametrize(
    ("host", "name"),
    [
        ("yard.example", "yard.example"),
        ("Yard.Example.:8460", "yard.example"),
        ("127.0.0.1:8460", "127.0.0.1"),
        ("[::1]:8460", "::1"),
        ("[::1", ""),
        ("", ""),
    ],
)
def test_a_host_is_known_by_its_name_without_port_or_last_dot(host, name):
    assert host_name(host) == name


@pytest.mark.parametrize(
    ("name", "here", "elsewhere"),
    [
        ("localhost", True, False),
        ("127.0.0.9", True, False),
        ("::1", True, False),
        ("192.0.2.1", False, True),
        ("0.0.0.0", False, False),
        ("yard.example", False, False),
        ("", False, False),
    ],
)
def test_which_names_mean_this_computer_and_which_another(name, here, elsewhere):
    assert is_loopback(name) is here
    assert is_elsewhere(f"[{name}]:80" if ":" in name else name) is elsewhere


@pytest.mark.parametrize(
    ("host", "listen", "fitting"),
    [
        ("yard.example", "", True),
        ("other.example", "", False),
        ("localhost", "", True),
        ("", "", False),
        ("192.0.2.1", "", True),
        ("192.0.2.1", "192.0.2.9", False),
        ("192.0.2.9", "192.0.2.9", True),
        ("127.0.0.1", "192.0.2.9", True),
        ("192.0.2.1", "0.0.0.0", True),
        ("198.51.100.7", "127.0.0.1", True),
        ("yard.example", "127.0.0.1", True),
    ],
)
def test_a_page_answers_to_its_names_and_where_it_listens(host, listen, fitting):
    assert host_fits(host, {"yard.example", "198.51.100.7"}, listen) is fitting


@pytest.mark.parametrize(
    ("forwarded", "address", "asked"),
    [
        ("192.0.2.7", "127.0.0.1", "192.0.2.7"),
        ("192.0.2.66, 192.0.2.7", "::1", "192.0.2.7"),
        ("192.0.2.66,2001:DB8::7 ", "127.0.0.1", "2001:db8::7"),
        ("", "127.0.0.1", "127.0.0.1"),
        ("192.0.2.7, unknown", "127.0.0.1", "127.0.0.1"),
        ("192.0.2.7:4711", "127.0.0.1", "127.0.0.1"),
        ("192.0.2.7", "192.0.2.8", "192.0.2.8"),
        ("127.0.0.1", "192.0.2.8", "192.0.2.8"),
    ],
)
def test_a_web_server_on_this_computer_says_for_whom_it_asks(forwarded, address, asked):
    assert asked_from(forwarded, address) == asked


def test_a_request_that_was_passed_on_is_known_by_its_headers_or_its_old_version():
    assert not was_passed_on({"host": "yard.example"}, "1.1")
    assert was_passed_on({"host": "yard.example"}, "1.0")
    assert was_passed_on({"via": "x"}, "1.1")


@pytest.mark.parametrize(
    ("path", "own"),
    [
        ("/place/p1?span=day", True),
        ("/" + "x" * 298, True),
        ("/" + "x" * 299, False),
        ("place/p1", False),
        ("//evil.example", False),
        ("/\\evil.example", False),
        ("/place\\p1", False),
        ("/place/\u202e", False),
        ("/do/work", False),
        ("", False),
    ],
)
def test_a_way_back_leads_to_a_sheet_of_the_page_or_to_the_yard(path, own):
    assert own_path(path) == (path if own else "/")


@pytest.fixture
def sessions(tmp_path):
    return Sessions(KEY, "hash", GuestBook(tmp_path), EndedSessions(tmp_path), alone=False)


def visitor(sessions, cookie, now_s, address="192.0.2.7", host="yard.example"):
    return sessions.visitor(cookie, host, {}, address, now_s)


def test_a_session_lasts_thirty_days_and_a_form_half_a_day(sessions):
    cookie = sessions.begin(0, name="Ann", known=True, session="s1")
    found = visitor(sessions, cookie, 30 * DAY_S - 1)
    assert (found.standing, found.name, found.session, found.known) == (Standing.KEEPER, "Ann", "s1", True)
    late = visitor(sessions, cookie, 30 * DAY_S)
    assert (late.standing, late.name, late.session, late.known) == (Standing.STRANGER, "", "", False)
    token = sessions.form_token("s1", 0)
    assert sessions.form_fits(token, "s1", 12 * HOUR_S - 1)
    assert not sessions.form_fits(token, "s1", 12 * HOUR_S)
    assert not sessions.form_fits(token, "s2", 0)
    assert not sessions.form_fits(sessions.form_token("", 0), "", 0), "without a session there is no form"


def test_a_new_session_has_an_id_of_its_own_and_no_rights(sessions):
    one, other = sessions.begin(0), sessions.begin(0)
    assert sessions.session_of(one, 0) != sessions.session_of(other, 0)
    assert sessions.session_of("made up", 0) == ""
    found = visitor(sessions, one, 0)
    assert (found.standing, found.keeps, found.looks, found.name) == (Standing.STRANGER, False, False, "")
    assert not found.was_guest


def test_a_session_that_ended_opens_nothing_and_another_goes_on(sessions, tmp_path):
    mine, theirs = (sessions.begin(0, known=True, session=one) for one in ("mine", "theirs"))
    sessions.end("mine", 100)
    sessions.end("", 100)
    assert visitor(sessions, mine, 100).standing is Standing.STRANGER
    assert visitor(sessions, theirs, 100).standing is Standing.KEEPER
    kept = json.loads((tmp_path / ENDED_FILE).read_text())
    assert kept == {"mine": 100 + 30 * DAY_S}
    again = EndedSessions(tmp_path)
    assert "mine" in again
    again.end("another", 100 + 30 * DAY_S, 60)
    assert set(json.loads((tmp_path / ENDED_FILE).read_text())) == {"another"}, "its cookie could serve no more"


def test_a_guest_bears_the_name_of_the_link_and_looks_alone(sessions, tmp_path):
    book = GuestBook(tmp_path)
    made, secret = book.make("The neighbours", "Ann", 7)
    guests = Sessions(KEY, "hash", book, EndedSessions(tmp_path), alone=False)
    cookie = guests.begin(0, name="Eve", guest=made.secret_hash)
    found = visitor(guests, cookie, 0)
    assert (found.standing, found.name, found.keeps, found.looks) == (Standing.GUEST, "The neighbours", False, True)
    assert book.holder(secret) == made
    assert book.withdraw(made.number) == made
    gone = visitor(guests, cookie, 0)
    assert (gone.standing, gone.name, gone.was_guest) == (Standing.STRANGER, "Eve", True)


@pytest.mark.parametrize(
    ("address", "host", "near"),
    [
        ("127.0.0.1", "localhost:8460", True),
        ("::1", "[::1]:8460", True),
        ("127.0.0.1", "yard.example", False),
        ("192.0.2.7", "localhost", False),
    ],
)
def test_near_is_who_calls_this_computer_from_this_computer(tmp_path, address, host, near):
    alone = Sessions(KEY, "", GuestBook(tmp_path), EndedSessions(tmp_path))
    found = visitor(alone, "", 0, address, host)
    assert (found.near, found.keeps, found.address) == (near, near, address)


def test_a_program_that_passes_the_page_on_is_told_once_in_the_log(tmp_path, caplog):
    alone = Sessions(KEY, "", GuestBook(tmp_path), EndedSessions(tmp_path))
    with caplog.at_level(logging.WARNING, "heaptender.page"):
        alone.heed("192.0.2.1", "192.0.2.7")
        alone.heed("localhost", "127.0.0.1")
        alone.visitor("", "localhost", {"via": "x"}, "192.0.2.7", 0)
        assert visitor(alone, "", 0, "127.0.0.1", "localhost").near, (
            "what comes from elsewhere says nothing of this computer"
        )
        alone.heed("192.0.2.1", "127.0.0.1")
        alone.heed("192.0.2.1", "127.0.0.1")
        alone.visitor("", "localhost", {"via": "x"}, "127.0.0.1", 0)
    assert not visitor(alone, "", 0, "127.0.0.1", "localhost").near
    assert len(caplog.records) == 1
    assert "from now on everybody is asked" in caplog.text


def test_a_typed_name_is_one_line_of_forty_letters():
    assert tidy_name("Ann\nExample") == "Ann Example"
    assert tidy_name("   ") == ""
    assert len(tidy_name("x" * 60)) == 40
    assert tidy_name("x" * 40) == "x" * 40


def test_guest_links_are_numbered_newest_first_and_fifty_at_most(tmp_path):
    book = GuestBook(tmp_path)
    for number in range(1, 51):
        made, _ = book.make(f"guest {number}", "Ann", number)
        assert (made.number, made.by, made.made) == (number, "Ann", number)
    with pytest.raises(UnavailableError, match="There are 50 such links already; withdraw one first"):
        book.make("one too many", "Ann", 51)
    assert [guest.number for guest in book.all()][:2] == [50, 49]
    assert book.withdraw(99) is None
    assert book.withdraw(20).name == "guest 20"
    made, secret = book.make("another", "Ann", 52)
    assert made.number == 51
    again = GuestBook(tmp_path)
    assert again.all() == book.all()
    assert again.holder(secret) == made
    assert again.known("0" * 64) is None


@pytest.mark.parametrize(("file", "opened"), [(GUESTS_FILE, GuestBook), (ENDED_FILE, EndedSessions)])
@pytest.mark.parametrize("text", ["", "5", "[5]", "{", '[{"number": 1}]'])
def test_a_file_that_cannot_be_read_is_named_with_what_to_do(tmp_path, file, opened, text):
    (tmp_path / file).write_text(text)
    with pytest.raises(UnavailableError, match=f"{file} cannot be read .*; mend it or delete it"):
        opened(tmp_path)


def unwritable(folder):
    """Put a folder where a file would be written, as nobody can replace it."""
    (folder / GUESTS_FILE).mkdir()
    (folder / ENDED_FILE).mkdir()


def test_what_cannot_be_kept_changes_nothing_and_is_told(tmp_path, caplog):
    book, ended = GuestBook(tmp_path), EndedSessions(tmp_path)
    unwritable(tmp_path)
    with pytest.raises(UnavailableError, match=f"{GUESTS_FILE} cannot be written"):
        book.make("a guest", "Ann", 0)
    assert book.all() == []
    with caplog.at_level(logging.WARNING, "heaptender.page"):
        ended.end("s1", 0, 10)
    assert "s1" in ended, "it holds until the next start"
    assert "Who signed out is forgotten at the next start" in caplog.text
    assert sorted(one.name for one in tmp_path.iterdir()) == sorted([GUESTS_FILE, ENDED_FILE]), "nothing half written"


def test_of_many_ended_sessions_the_newest_five_thousand_are_kept(tmp_path):
    (tmp_path / ENDED_FILE).write_text(json.dumps({f"s{number}": 1_000 + number for number in range(5_000)}))
    ended = EndedSessions(tmp_path)
    ended.end("last", 0, 9_000)
    assert "s0" not in ended
    assert "s1" in ended
    assert "last" in ended
    assert len(json.loads((tmp_path / ENDED_FILE).read_text())) == 5_000


def test_a_private_file_is_replaced_whole_and_read_by_its_owner_alone(tmp_path):
    path = tmp_path / "secret"
    path.write_bytes(b"old and longer")
    path.chmod(0o644)
    write_private(path, b"new")
    assert path.read_bytes() == b"new"
    assert path.stat().st_mode & 0o777 == 0o600
    assert [one.name for one in tmp_path.iterdir()] == ["secret"]
    with pytest.raises(FileNotFoundError):
        write_private(tmp_path / "none" / "secret", b"new")


def test_writing_a_private_file_leaves_nothing_open(tmp_path):
    write_private(tmp_path / "secret", b"once")
    before = len(list(Path("/proc/self/fd").iterdir()))
    for _ in range(3):
        write_private(tmp_path / "secret", b"again")
    assert len(list(Path("/proc/self/fd").iterdir())) == before


def test_the_pages_key_is_made_in_a_private_folder_and_a_short_one_is_refused(tmp_path):
    folder = tmp_path / "deep" / "data"
    key = load_key(folder)
    assert len(key) == 32
    assert folder.stat().st_mode & 0o777 == 0o700
    assert load_key(folder) == key
    (folder / KEY_FILE).write_bytes(b"x" * 31)
    with pytest.raises(UnavailableError, match="is too short for a key; delete it"):
        load_key(folder)
    (folder / KEY_FILE).write_bytes(b"x" * 32)
    assert load_key(folder) == b"x" * 32
    (folder / KEY_FILE).unlink()
    (folder / KEY_FILE).mkdir()
    with pytest.raises(UnavailableError, match="cannot be used for the page's key"):
        load_key(folder)
