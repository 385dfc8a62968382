"""How the page is joined to the daemon: looks, what people do, marks, certificates, whether it is on."""

import json
import queue
import threading
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from running_daemon import START, daemons

from monitor.app.entries.label_file import labels_path, load_labels
from monitor.app.loop.clock import ScaledClock
from monitor.app.page_ports.page_doing import InboxDoing
from monitor.app.page_ports.page_marks import LabelMarks
from monitor.app.page_ports.page_papers import BatchPapers
from monitor.app.page_ports.page_yard import DaemonYard
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.events import EventKind
from monitor.model.times import HOUR_MS
from monitor.page import Mark

TOML = """
[site]
name = "Tern Hollow allotments"
[piles.p1]
name = "Bay 1"
[probes.p1-a]
place = "p1"
"""


@pytest.fixture
def running(tmp_path):
    """A function that starts a daemon with more configuration."""
    yield from daemons(tmp_path, TOML, any_port=True)


def test_a_look_is_a_copy_that_changes_nothing(running):
    daemon = running("[page]\non = false\n")
    yard = DaemonYard(daemon.hub, lambda: daemon.configuration)
    with yard.look() as look:
        assert look.fresh
        look.engine.advance(look.now + 999 * HOUR_MS)
        assert look.engine.last > daemon.engine().last + 900 * HOUR_MS
        assert look.works("p1") == []
    before = yard.changed()
    InboxDoing(lambda: daemon.configuration, daemon.hub).put(
        EventKind.WORK, {"place": "p1", "kind": "note", "note": "seen"}
    )
    assert yard.changed() > before
    with yard.look() as look:
        assert [entry.work.kind for entry in look.works("p1")] == ["note"]


def test_a_writer_that_does_not_come_round_leaves_the_last_look(running, monkeypatch):
    from monitor.app.page_ports import page_yard

    daemon = running("[page]\non = false\n")
    yard = DaemonYard(daemon.hub, lambda: daemon.configuration)
    with yard.look() as look:
        stood = look.engine.last
    monkeypatch.setattr(page_yard, "WAIT_S", 0.01)
    monkeypatch.setattr(daemon.hub, "call", lambda task: None)
    yard._changed += 1
    with yard.look() as look:
        assert (look.fresh, look.engine.last) == (False, stood)
    fresh = DaemonYard(daemon.hub, lambda: daemon.configuration)
    with pytest.raises(UnavailableError), fresh.look():
        pass


def test_what_is_refused_comes_back_as_a_sentence(running):
    daemon = running("[page]\non = false\n")
    doing = InboxDoing(lambda: daemon.configuration, daemon.hub)
    done = doing.put(EventKind.WORK, {"place": "p9", "kind": "turned"})
    assert done.at is None
    assert done.refusal.startswith('There is no pile or bin "p9"')
    assert done.refusal.endswith((".", "?"))


def test_what_was_not_asked_about_in_a_sitting_is_remarked_on(running):
    daemon = running("[page]\non = false\n")
    doing = InboxDoing(lambda: daemon.configuration, daemon.hub)
    now = START
    old = {"place": "p1", "kind": "note", "note": "seen", "by": "Ann"}
    assert "Is the day right?" in doing.put(EventKind.WORK, {**old, "time": now - 960 * HOUR_MS}).question
    assert doing.put(EventKind.WORK, {**old, "time": now - 960 * HOUR_MS}, again=True).remark == ""
    again = doing.put(EventKind.WORK, {**old, "time": now - 937 * HOUR_MS})
    assert again.remark == "That is 39 days back, as with 1, so the day was not asked about."
    rows = [[now - 935 * HOUR_MS, "hand:p1", 131_000_000, "[degF]"]]
    read = doing.put(EventKind.READINGS, {"rows": rows, "ahead": [], "by": "Ann"}, again=False)
    assert read.remark == "That is 38 days back, as with 2, so the day was not asked about."
    assert doing.put(EventKind.WORK, {**old, "time": now - HOUR_MS}).remark == ""


def test_a_page_that_is_off_loads_no_server_and_listens_nowhere(running):
    assert running("[page]\non = false\n").page.address == ""


def test_the_page_is_served_and_ends_with_the_daemon(running):
    daemon = running("[page]\nport = 8460\n")
    address = daemon.page.address
    with urllib.request.urlopen(address, timeout=20) as answer:
        assert "Bay 1" in answer.read().decode()
    daemon.stop.set()
    daemon.hub.wake()
    for thread in threading.enumerate():
        if thread.name == "page":
            thread.join(10)
    with pytest.raises(urllib.error.URLError):
        urllib.request.urlopen(address, timeout=2)


def test_marks_are_the_labels_that_tuning_reads(running):
    daemon = running("[page]\non = false\n")
    marks = LabelMarks(lambda: daemon.configuration)
    mark = Mark(START, START + HOUR_MS, "trouble", "lid shut")
    marks.mark("p1", mark, "Ann")
    label = load_labels(labels_path(daemon.configuration))[0]
    assert (label.place, label.kind, label.note, label.end - label.start) == (
        "p1",
        "trouble",
        "lid shut (Ann)",
        HOUR_MS,
    )
    assert marks.marks("p2") == []
    marks.unmark("p1", marks.marks("p1")[0])
    assert marks.marks("p1") == []


def test_certificates_are_found_by_their_names_alone(running, monkeypatch):
    from monitor.app.page_ports import page_papers

    daemon = running("[page]\non = false\n")
    papers = BatchPapers(lambda: daemon.configuration, lambda: START)

    def certified(source, batch, out):
        out.write_bytes(b"%PDF")
        return "not proven"

    monkeypatch.setattr(page_papers, "_certified", certified)
    made = papers.make("p1-2026-07-14", "Ann")
    assert (made.words, made.made) == ("not proven", START // 1000 * 1000)
    assert papers.papers("p1-2026-07-14") == [made]
    assert papers.papers("p1") == []
    assert papers.pdf(made.name) == b"%PDF"
    (daemon.configuration.data / "certificates" / "secret.pdf").write_bytes(b"x")
    for name in ("../page.key", "secret.pdf", "p1.20260714T000000Z.met.pdf"):
        with pytest.raises(KeyError):
            papers.pdf(name)


@pytest.mark.parametrize(("interim", "words"), [(True, "not met yet"), (False, "not met")])
def test_a_certificate_of_a_batch_that_is_under_way_says_so_in_its_name(running, monkeypatch, interim, words):
    from monitor.app.page_ports import page_papers

    daemon = running("[page]\non = false\n")
    papers = BatchPapers(lambda: daemon.configuration, lambda: START)

    def judged(source, batch, *more):
        Path(more[1]).write_bytes(b"%PDF")
        return {"verdict": "not met", "interim": interim}

    monkeypatch.setattr(page_papers, "_judged", judged)
    assert papers.make("p1-2026-07-14", "Ann").words == words
    assert [one.words for one in papers.papers("p1-2026-07-14")] == [words]


def test_what_certify_says_is_told(running):
    daemon = running("[page]\non = false\n")
    papers = BatchPapers(lambda: daemon.configuration, lambda: START)
    with pytest.raises(MisuseError, match="p9"):
        papers.make("p9-2026-01-01", "Ann")
    assert list((daemon.configuration.data / "certificates").iterdir()) == []


def test_a_clock_goes_on_at_another_pace_without_a_jump():
    now = [0.0]
    clock = ScaledClock(START, 1000.0, lambda: now[0])
    now[0] = 2.0
    clock.go_on(10.0)
    assert clock.now_ms() == START + 2_000_000
    now[0] = 3.0
    assert clock.now_ms() == START + 2_010_000
    assert clock.seconds_until(clock.now_ms() + 10_000) == 1.0


def test_settings_of_the_page_stay_out_of_the_record(running):
    daemon = running('[page]\non = false\npassword = "three barrows"\nhosts = ["Yard.Example."]\n')
    assert daemon.configuration.page.hosts == ("yard.example",)
    text = json.dumps(daemon.engine().snapshot().decode())
    assert "barrows" not in text
    assert "barrows" not in repr(daemon.configuration)


@pytest.mark.parametrize(
    ("ups", "known"),
    [([], False), ([False], False), ([True], True), ([True, False], True), ([False, True, False], True)],
)
def test_no_session_is_called_lost_that_there_never_was(running, ups, known):
    """After a login that failed, a first connection would be told as a session that the broker lost."""
    daemon = running("[page]\non = false\n")
    told = queue.Queue()

    def tell():
        for up in ups:
            daemon.hub.event(EventKind.LINK, {"what": "source", "name": "mqtt", "up": up, "why": ""})
            daemon.hub.step(0.0)
        told.put(daemon._was_connected())

    daemon.hub.call(tell)
    assert told.get(timeout=20) is known
