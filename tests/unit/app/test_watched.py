"""Whether the yard is watched at all: by `status`, by `check`, by who holds the page's port, by a start that waits its turn."""

import errno
import json
import os
import socket
import tempfile
import threading
import time
from types import SimpleNamespace

import pytest
from click.testing import CliRunner
from running_daemon import daemons

from monitor.app.checks.connection_checks import all_checks
from monitor.app.checks.page_check import held_by, page_trouble
from monitor.app.command import heaptender
from monitor.app.daemon.daemon import Daemon
from monitor.app.loop import storing
from monitor.app.loop.clock import YardClock
from monitor.app.loop.storing import is_marked_failing, mark_storing, why_unstored
from monitor.configuration import load_text
from monitor.journal import WriterLock, journal_path, open_reader
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind
from monitor.page import hash_password

YARD = """
[site]
name = "Tern Hollow"
[piles.p1]
[bins.b1]
[bins.b2]
[probes.b1-a]
place = "b1"
"""


@pytest.fixture
def port():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


@pytest.fixture
def running(tmp_path):
    """A function that starts a daemon with its page on a port."""
    yield from daemons(tmp_path, YARD)


def links(daemon):
    with open_reader(daemon.configuration.data) as store:
        return [(one.payload["what"], one.payload["up"]) for one in store.events() if one.kind is EventKind.LINK]


def eventually(check):
    end = time.monotonic() + 10
    while not check():
        assert time.monotonic() < end
        time.sleep(0.05)


def status(folder, *more):
    """Return its exit code and what it says."""
    words = ["status", "--config", str(folder / "heaptender.toml"), *more]
    run = CliRunner().invoke(heaptender, words, standalone_mode=False)
    assert run.exception is None, run.exception
    return run.return_value, run.stdout


def test_status_says_by_its_exit_code_whether_the_yard_is_watched(running, tmp_path, port):
    daemon = running(f"[page]\nport = {port}\n")
    code, said = status(tmp_path)
    assert code == 0
    assert f"The page: http://127.0.0.1:{port}" in said
    mark_storing(daemon.configuration.data, works=False)
    code, said = status(tmp_path, "--json")
    assert (code, json.loads(said)["stores"]) == (1, False)
    code, said = status(tmp_path)
    assert (code, said.splitlines()[0][:24]) == (1, "Nothing can be stored, s")
    mark_storing(daemon.configuration.data, works=True)
    assert status(tmp_path)[0] == 0
    daemon.stop.set()
    daemon.hub.wake()
    eventually(lambda: status(tmp_path)[0] == 1)


def test_a_disk_that_takes_nothing_is_seen_by_trying(tmp_path, monkeypatch):
    assert why_unstored(tmp_path, None) == ""
    for number, words in ((errno.ENOSPC, "full"), (errno.EROFS, "read-only"), (errno.EIO, "fails")):

        def refuse(*_, number=number, **__):
            raise OSError(number, os.strerror(number))

        monkeypatch.setattr(tempfile, "TemporaryFile", refuse)
        assert words in why_unstored(tmp_path, None)
    monkeypatch.setattr(storing.tempfile, "TemporaryFile", lambda **_: (_ for _ in ()).throw(PermissionError(13, "no")))
    assert why_unstored(tmp_path, None) == ""


def test_a_start_that_fails_for_want_of_room_is_told_once(tmp_path, monkeypatch):
    from monitor.app.daemon.start_failed import FailedStart

    sent = []

    class Wire:
        def send(self, letter):
            sent.append(letter.body)

    monkeypatch.setattr("monitor.app.daemon.start_failed.build_channels", lambda _: {"wire": Wire(), "page": Wire()})
    text = YARD + '[contacts.ann]\nchannels = ["wire", "page"]\n[channels.wire]\nurl = "json://127.0.0.1:9/"\n'
    configuration = load_text(text, tmp_path / "heaptender.toml", {}, rules=set())
    WriterLock(configuration.data).release()
    FailedStart(configuration).tell("another writer already holds the data folder")
    assert sent == []
    monkeypatch.setattr("monitor.app.daemon.start_failed.why_unstored", lambda *_: "the disk is full")
    for _ in range(3):
        FailedStart(configuration).tell("the disk that holds journal.db is full.")
    assert len(sent) == 1
    assert "nothing has been stored" in sent[0]
    WriterLock(configuration.data).release()
    FailedStart(configuration).tell("the disk that holds journal.db is full.")
    assert len(sent) == 2


@pytest.mark.parametrize("runtime", [True, False])
def test_a_read_only_disk_is_told_once_however_often_the_start_fails(tmp_path, monkeypatch, runtime):
    from monitor.app.daemon.start_failed import FailedStart

    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    if runtime:
        monkeypatch.setenv("RUNTIME_DIRECTORY", f"{elsewhere}:/run/another")
    else:
        monkeypatch.delenv("RUNTIME_DIRECTORY", raising=False)
        monkeypatch.setattr("tempfile.tempdir", str(elsewhere))
    sent = []
    monkeypatch.setattr(
        "monitor.app.daemon.start_failed.build_channels", lambda _: {"wire": SimpleNamespace(send=sent.append)}
    )
    text = YARD + '[contacts.ann]\nchannels = ["wire"]\n[channels.wire]\nurl = "json://127.0.0.1:9/"\n'
    configuration = load_text(text, tmp_path / "heaptender.toml", {}, rules=set())
    WriterLock(configuration.data).release()
    utime = os.utime

    def read_only(path, times=None):
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr("monitor.app.daemon.start_failed.why_unstored", lambda *_: "the disk is read-only")
    monkeypatch.setattr(os, "utime", read_only)
    for _ in range(3):
        FailedStart(configuration).tell("the disk that holds journal.db is read-only.")
    assert len(sent) == 1
    assert len(list(elsewhere.iterdir())) == 1
    # Writable again, the daemon starts; the next outage is told anew.
    monkeypatch.setattr(os, "utime", utime)
    daemon = Daemon(configuration, YardClock())
    daemon.writer.close()
    assert list(elsewhere.iterdir()) == []
    FailedStart(configuration).tell("the disk that holds journal.db is full.")
    assert len(sent) == 2


def test_a_mark_that_another_user_made_where_all_may_write_does_not_count(tmp_path, monkeypatch):
    monkeypatch.setenv("RUNTIME_DIRECTORY", str(tmp_path))
    data = tmp_path / "data"
    data.mkdir()
    monkeypatch.setattr(os, "utime", lambda *_: (_ for _ in ()).throw(PermissionError))
    mark_storing(data, works=False)
    assert is_marked_failing(data)
    (mark,) = tmp_path.glob("heaptender-unstored-*")
    if os.geteuid() == 0:
        os.chown(mark, 4711, -1)
    else:
        monkeypatch.setattr(type(data), "stat", lambda self: SimpleNamespace(st_uid=4711))
    assert not is_marked_failing(data)
    mark.unlink()
    mark.symlink_to(tmp_path / "something")
    mark_storing(data, works=False)
    assert not is_marked_failing(data)
    assert not (tmp_path / "something").exists()


def test_a_journal_that_nobody_wrote_lately_is_told(tmp_path):
    journal_path(tmp_path).write_bytes(b"")
    assert why_unstored(tmp_path, 4711) == ""
    os.utime(journal_path(tmp_path), (time.time() - 600, time.time() - 600))
    assert "last written 10 min ago" in why_unstored(tmp_path, 4711)
    assert why_unstored(tmp_path, None) == ""


def test_a_port_that_another_program_holds_is_told_and_taken_once_it_is_free(running, port, monkeypatch):
    monkeypatch.setattr("monitor.app.page_ports.page_service.AGAIN_S", 0.2)
    with socket.socket() as other:
        other.bind(("127.0.0.1", port))
        other.listen()
        daemon = running(f"[page]\nport = {port}\n")
        eventually(lambda: links(daemon) == [("page", False)])
        ok, words = page_trouble(daemon.configuration, running=True)
        assert not ok
        assert f"(process {os.getpid()})" in words
        assert "runs without its page" in words
    eventually(lambda: links(daemon) == [("page", False), ("page", True)])
    assert page_trouble(daemon.configuration, running=True)[0]


def test_our_own_page_is_known_by_asking_it_and_anothers_is_not_ours(running, tmp_path, port):
    daemon = running(f"[page]\nport = {port}\n")
    eventually(lambda: page_trouble(daemon.configuration, running=True)[0])
    assert "the daemon shows the page" in page_trouble(daemon.configuration, running=True)[1]
    other = tmp_path / "other"
    other.mkdir()
    foreign = load_text(YARD + f"[page]\nport = {port}\n", other / "heaptender.toml", {}, rules=set())
    ok, words = page_trouble(foreign, running=False)
    assert not ok
    assert "taken by" in words


def test_a_daemon_without_its_page_is_not_taken_for_one_with_it(tmp_path, port):
    configuration = load_text(YARD + f"[page]\nport = {port}\n", tmp_path / "heaptender.toml", {}, rules=set())
    assert page_trouble(configuration, running=False)[0]
    assert not page_trouble(configuration, running=True)[0]
    assert held_by(port) == ""


def test_check_names_the_places_that_no_probe_watches(tmp_path):
    configuration = load_text(YARD + "[page]\non = false\n", tmp_path / "heaptender.toml", {}, rules=set())
    told = {one.what: one for one in all_checks(configuration)}
    assert {what for what in told if what.startswith("place ")} == {"place p1", "place b2"}
    assert all(one.warning for what, one in told.items() if what.startswith("place "))


@pytest.mark.parametrize(
    ("page", "warned"),
    [
        ('listen = "0.0.0.0"\npassword = "three barrows of leaves"', True),
        ('listen = "127.0.0.1"\nlink = "https://yard.example"\npassword = "three barrows of leaves"', False),
        ('listen = "0.0.0.0"', False),
    ],
)
def test_check_warns_of_a_password_of_the_page_that_travels_in_the_clear(tmp_path, port, page, warned):
    configuration = load_text(f"{YARD}[page]\nport = {port}\n{page}\n", tmp_path / "heaptender.toml", {}, rules=set())
    told = [one for one in all_checks(configuration, quick=True) if "in the clear" in one.words]
    assert [(one.ok, one.warning, one.what) for one in told] == [(True, True, "page 0.0.0.0")] * warned
    assert all('`page.listen = "127.0.0.1"`' in one.words for one in told)


@pytest.mark.parametrize(("password", "warned"), [("ternhollow2026", True), ("three barrows of leaves", False)])
def test_check_warns_of_a_password_of_the_page_that_anybody_would_try(tmp_path, port, password, warned):
    text = f'{YARD}[page]\nport = {port}\npassword = "{password}"\n'
    configuration = load_text(text, tmp_path / "heaptender.toml", {}, rules=set())
    told = [one for one in all_checks(configuration, quick=True) if "no secret" in one.words]
    assert [(one.ok, one.warning, one.what) for one in told] == [(True, True, "page")] * warned
    assert not [one for one in told if password in one.words]
    hashed = f'{YARD}[page]\nport = {port}\npassword = "{hash_password(password)}"\n'
    hidden = load_text(hashed, tmp_path / "heaptender.toml", {}, rules=set())
    assert not [one for one in all_checks(hidden, quick=True) if "no secret" in one.words], "nobody can tell"


def test_a_start_waits_for_a_command_that_holds_the_folder(tmp_path):
    held = WriterLock(tmp_path)
    threading.Timer(0.3, held.release).start()
    with WriterLock(tmp_path, wait_s=10):
        pass
    held = WriterLock(tmp_path)
    begun = time.monotonic()
    with pytest.raises(UnavailableError, match="already holds"):
        WriterLock(tmp_path, wait_s=0.2)
    assert time.monotonic() - begun >= 0.2
    held.release()


def test_while_the_file_is_wrong_the_settings_in_force_serve_those_who_look_and_write_down(running, tmp_path):
    daemon = running("[page]\non = false\n")
    good = (tmp_path / "heaptender.toml").read_text()
    eventually(lambda: status(tmp_path)[0] == 0)
    for wrong in (good.replace("[bins.b1]", "[bins.b1"), good.replace('place = "b1"', 'place = "nowhere"')):
        (tmp_path / "heaptender.toml").write_text(wrong)
        code, said = status(tmp_path)
        assert (code, "probe b1-a" in said.lower()) == (0, True)
        words = ["log", "watered", "b1", "--again", "--config", str(tmp_path / "heaptender.toml")]
        run = CliRunner().invoke(heaptender, words, standalone_mode=False)
        assert run.exception is None, run.exception
        assert "`heaptender check` says which" in run.stderr
        assert "Shed" in run.stdout or "b1" in run.stdout
    daemon.stop.set()
    daemon.hub.wake()

    def refused():
        run = CliRunner().invoke(
            heaptender, ["status", "--config", str(tmp_path / "heaptender.toml")], standalone_mode=False
        )
        return run.exception is not None

    eventually(refused)
