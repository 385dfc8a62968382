"""While nothing can be stored people are told at once past the record: of the outage and of danger, and not twice."""

import threading

import pytest

from monitor.app.daemon.daemon import Daemon
from monitor.app.loop import outage as outage_module
from monitor.app.loop import turns as turns_module
from monitor.app.loop.clock import YardClock
from monitor.app.loop.storing import mark_storing
from monitor.configuration import load_text
from monitor.engine import Engine
from monitor.intake import Arrival
from monitor.model.errors import UnavailableError
from monitor.model.events import EventKind
from monitor.model.readings import Heard
from monitor.model.times import MINUTE_MS

T0 = 1_793_577_600_000
YARD = """
[site]
name = "Tern Hollow"
time_zone = "UTC"
temperature_unit = "degC"
data = "data"
[bins.b1]
name = "Wall bin"
[piles.p1]
rule = "none"
[probes.b1-a]
place = "b1"
[probes.p1-a]
place = "p1"
[contacts.ann]
channels = ["wire"]
quiet = "none"
digest = false
[contacts.ben]
channels = ["slow"]
quiet = "none"
digest = false
[channels.wire]
url = "json://127.0.0.1:9/wire"
[channels.slow]
url = "json://127.0.0.1:9/slow"
"""


class Wire:
    """A channel. It has a letter that holds the words `slow` at once, and answers when `answers` is set.

    The answer is `late`, if that is a fault.
    """

    def __init__(self):
        self.got, self.fault, self.slow, self.late = [], None, "", None
        self.answers = threading.Event()

    def send(self, letter):
        if self.fault is not None:
            raise self.fault
        self.got.append(letter.body)
        if self.slow and self.slow in letter.body:
            assert self.answers.wait(30)
            if self.late is not None:
                raise self.late


class Yard:
    """A daemon whose journal takes nothing while `full` is set; `during` is called once at each pause."""

    def __init__(self, folder, monkeypatch):
        self.wall, self.mono, self.full, self.during = T0, 0.0, "", []
        monkeypatch.setattr(turns_module, "FIRST_PAUSE_S", 0.01)
        monkeypatch.setattr(turns_module, "LONGEST_PAUSE_S", 0.01)
        monkeypatch.setattr(outage_module, "TELL_AFTER_S", 0.0)
        self.wire, self.slow = Wire(), Wire()
        monkeypatch.setattr(
            "monitor.app.connections.deliveries.build_channels", lambda _: {"wire": self.wire, "slow": self.slow}
        )
        configuration = load_text(YARD, folder / "heaptender.toml", {}, rules=set())
        self.daemon = Daemon(configuration, YardClock(lambda: self.wall, lambda: self.mono, lambda: True))
        self.hub, self.writer = self.daemon.hub, self.daemon.writer
        self.hub.event(EventKind.STARTED, {"down_since": None})
        self.daemon._settings_event()
        self.daemon._deliver()
        turn, wait, outer = self.writer.turn, self.hub.meanwhile.wait, self

        class Failing:
            def __init__(self, now):
                self.inner = turn(now)

            def __enter__(self):
                return self.inner.__enter__()

            def __exit__(self, *what):
                if what[0] is None and outer.full:
                    fault = UnavailableError(outer.full)
                    assert not self.inner.__exit__(type(fault), fault, None)
                    raise fault
                return self.inner.__exit__(*what)

        def waiting(pause_s):
            wait(pause_s)
            if self.during:
                self.during.pop(0)()

        monkeypatch.setattr(self.writer, "turn", Failing)
        monkeypatch.setattr(self.hub.meanwhile, "wait", waiting)
        self.hub.step(0.0)

    def passes(self, ms):
        self.wall += ms
        self.mono += ms / 1000

    def offer(self, probe, value):
        self.passes(1000)
        heard = (Heard(probe, "temperature", value * 1_000_000, "Cel", self.wall),)
        self.hub.offer(Arrival("mqtt", self.wall, heard, (), (1, self.wall % 60_000), "topic", b"raw"))

    def settle(self):
        for _ in range(20):
            self.hub.step(0.01)

    def free(self):
        self.full = ""

    def until(self, check):
        """Keep the outage going until something is so, then free the disk."""
        left = [500]

        def look():
            left[0] -= 1
            if check() or not left[0]:
                self.free()
            else:
                self.during.append(look)

        return look

    def events(self, kind):
        return [event.payload for event in self.writer.store.events() if event.kind is kind]


@pytest.fixture
def yard(tmp_path, monkeypatch):
    yard = Yard(tmp_path, monkeypatch)
    yield yard
    yard.daemon._settle_letters()
    yard.writer.close()


def about(got, words):
    return [text for text in got if words in text]


def test_the_outage_and_a_bin_in_danger_are_told_at_once_and_once(yard):
    yard.offer("b1-a", 21)
    yard.settle()
    yard.full = "the disk that holds journal.db is full"
    yard.offer("b1-a", 36)

    def more():
        yard.offer("b1-a", 37)

    yard.during = [more, yard.until(lambda: len(about(yard.wire.got, "WORMS")) + len(yard.slow.got) >= 3)]
    yard.settle()
    assert len(about(yard.wire.got, "WORMS IN DANGER")) == 1
    assert len(about(yard.wire.got, "nothing has been stored")) == 1
    assert "is full" in about(yard.wire.got, "nothing has been stored")[0]
    # It is recorded when storing works again, everything that came is there, and nobody is told the same again.
    yard.settle()
    assert [(one["what"], one["up"]) for one in yard.events(EventKind.LINK)] == [("disk", False), ("disk", True)]
    with_value = [row.micro // 1_000_000 for row in yard.writer.store.readings(["b1-a"], 0, 1 << 60)]
    assert with_value == [21, 36, 37]
    assert len(about(yard.wire.got, "WORMS IN DANGER")) == 1
    assert len(about(yard.wire.got, "nothing has been stored")) == 1
    yard.passes(2 * MINUTE_MS)
    yard.settle()
    assert len(about(yard.wire.got, "over since")) == 1
    assert yard.writer.store.waiting_notices() == 0


def hanging(yard):
    """An outage that ends while the wire has taken *worms in danger* and not answered yet."""
    yard.offer("b1-a", 21)
    yard.settle()
    yard.wire.slow = "WORMS"
    yard.full = "the disk that holds journal.db is full"
    yard.offer("b1-a", 36)
    yard.during = [lambda: yard.offer("b1-a", 37), yard.until(lambda: about(yard.wire.got, "WORMS"))]
    yard.settle()
    rows = [row for row in yard.writer.store.notices() if row.contact == "ann" and "WORMS" in row.text]
    assert len(rows) == 1


def test_a_letter_whose_answer_comes_after_the_outage_goes_once(yard):
    hanging(yard)
    yard.wire.answers.set()
    for _ in range(4):
        yard.settle()
    assert len(about(yard.wire.got, "WORMS IN DANGER")) == 1
    assert yard.writer.store.waiting_notices() == 0


def test_a_letter_that_gets_no_answer_after_the_outage_comes_again_and_says_so(yard):
    hanging(yard)
    yard.wire.late = TimeoutError()
    yard.wire.answers.set()
    for _ in range(4):
        yard.settle()
    yard.wire.late = None
    yard.passes(5 * MINUTE_MS)
    for _ in range(4):
        yard.settle()
    first, *again = about(yard.wire.got, "WORMS IN DANGER")
    assert "repeat" not in first
    assert again
    assert all("repeat" in one for one in again)
    assert yard.writer.store.waiting_notices() == 0


def test_a_repeat_that_was_told_during_the_outage_is_not_told_once_more(yard):
    yard.offer("b1-a", 21)
    yard.settle()
    for value in (36, 37):
        yard.offer("b1-a", value)
    for _ in range(100):
        if about(yard.wire.got, "WORMS IN DANGER"):
            break
        yard.settle()
    assert len(about(yard.wire.got, "WORMS IN DANGER")) == 1
    yard.full = "the disk that holds journal.db is full"
    yard.offer("b1-a", 37)
    # The channel's answer is heard a moment after the letter is there; the disk is freed after both.
    heard = yard.hub._outage._letters
    yard.during = [
        lambda: yard.passes(16 * MINUTE_MS),
        yard.until(lambda: about([one[3] for one in heard], "Still on")),
    ]
    yard.settle()
    yard.settle()
    assert len(about(yard.wire.got, "Still on")) == 1


def test_what_waits_after_an_end_in_the_midst_of_an_outage_may_have_been_told(yard, tmp_path):
    def kept():
        return [row.maybe_repeat for row in yard.writer.store.notices() if row.contact == "ann"]

    yard.wire.fault = RuntimeError("away")
    yard.offer("b1-a", 36)
    yard.offer("b1-a", 37)
    yard.settle()
    yard.daemon._settle_letters()
    assert kept() == [False]
    for works, marked in ((True, [False]), (False, [True])):
        mark_storing(tmp_path / "data", works=works)
        configuration = yard.daemon.configuration
        yard.writer.close()
        yard.daemon = Daemon(configuration, yard.daemon.clock)
        yard.writer = yard.daemon.writer
        assert kept() == marked


def test_the_outage_waits_for_no_message_of_the_same_minute(yard):
    """Less urgent messages of one minute go as one; that nothing can be stored goes at once all the same."""
    yard.offer("b1-a", 3)
    yard.settle()
    assert len(about(yard.wire.got, "close to freezing")) == 1
    yard.full = "the disk that holds journal.db is full"
    yard.offer("b1-a", 3)
    while_full = []

    def told():
        if about(yard.wire.got, "nothing has been stored"):
            while_full.append(yard.full)
        return while_full

    yard.during = [yard.until(told)]  # no time goes by meanwhile
    yard.settle()
    assert while_full == ["the disk that holds journal.db is full"]


def test_who_could_not_be_told_during_the_outage_is_told_after_it(yard):
    yard.offer("b1-a", 21)
    yard.settle()
    yard.slow.fault = RuntimeError("away")
    yard.full = "the disk failed"
    yard.offer("b1-a", 36)
    yard.during = [lambda: yard.offer("b1-a", 37), yard.until(lambda: about(yard.wire.got, "WORMS"))]
    yard.settle()
    assert yard.slow.got == []
    yard.slow.fault = None
    for _ in range(6):
        yard.passes(2 * MINUTE_MS)
        yard.settle()
    assert about(yard.slow.got, "WORMS IN DANGER")


def test_a_fire_that_begins_in_the_midst_of_an_outage_is_told(yard):
    yard.offer("p1-a", 70)
    yard.settle()
    yard.full = "the disk failed"
    yard.offer("p1-a", 72)
    burning = [lambda value=value: yard.offer("p1-a", value) for value in (76, 80, 84, 86)]
    yard.during = [*burning, yard.until(lambda: about(yard.wire.got, "FIRE DANGER"))]
    yard.settle()
    assert len(about(yard.wire.got, "FIRE DANGER")) == 1


def test_a_record_that_cannot_be_read_either_is_told_from_memory(yard, monkeypatch):
    yard.offer("b1-a", 21)
    yard.settle()

    def unreadable():
        raise UnavailableError("the disk failed")

    monkeypatch.setattr(yard.writer, "beside", unreadable)
    yard.full = "the disk failed"
    yard.offer("b1-a", 36)
    yard.during = [lambda: yard.offer("b1-a", 37), yard.until(lambda: about(yard.wire.got, "WORMS"))]
    yard.settle()
    assert about(yard.wire.got, "WORMS IN DANGER")


def test_without_any_engine_the_outage_itself_is_told_to_everybody(yard, monkeypatch):
    def broken(*_):
        raise UnavailableError("the disk failed")

    monkeypatch.setattr(yard.writer, "beside", broken)
    monkeypatch.setattr(Engine, "snapshot", broken)
    yard.full = "the disk failed"
    yard.offer("b1-a", 36)
    yard.during = [yard.until(lambda: yard.wire.got and yard.slow.got)]
    yard.settle()
    assert len(about(yard.wire.got, "nothing has been stored")) == 1
    assert len(about(yard.slow.got, "nothing has been stored")) == 1


def test_a_moment_of_failing_tells_nobody(yard, monkeypatch):
    monkeypatch.setattr(outage_module, "TELL_AFTER_S", 60.0)
    yard.full = "the journal is held by another process"
    yard.offer("b1-a", 21)
    yard.during = [lambda: None, yard.free]
    yard.settle()
    assert (yard.wire.got, yard.events(EventKind.LINK)) == ([], [])


@pytest.mark.parametrize(
    ("full", "said"), [("", "what had come is stored"), ("the disk is full", "could not be stored")]
)
def test_the_end_says_whether_what_had_come_is_stored(yard, caplog, full, said):
    caplog.set_level("INFO")
    yard.full = full
    yard.offer("b1-a", 23)
    yard.daemon.end()
    last = next(one.getMessage() for one in reversed(caplog.records) if one.getMessage().startswith("Ended"))
    assert said in last
