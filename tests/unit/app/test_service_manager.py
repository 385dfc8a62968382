"""What the daemon tells a service manager, received on a real socket (sd_notify(3))."""

import os
import socket

import pytest

from monitor.app.upkeep.service_manager import SIGNS, ServiceManager, service_manager


class Listener:
    """The manager's end of the wire."""

    def __init__(self, address):
        self._wire = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._wire.bind(address)
        self._wire.setblocking(False)

    def heard(self):
        said = []
        while True:
            try:
                said.append(self._wire.recv(4096).decode())
            except BlockingIOError:
                return said

    def close(self):
        self._wire.close()


@pytest.fixture
def listener(tmp_path):
    one = Listener(str(tmp_path / "wire"))
    yield one
    one.close()


@pytest.fixture
def address(tmp_path):
    return str(tmp_path / "wire")


def test_each_turn_of_a_daemons_life_is_told(listener, address):
    manager = ServiceManager(address, None, lambda: 12.5)
    manager.ready("Watching Test yard: 1 pile.")
    manager.reading_again()
    manager.ready("Watching Test yard: 2 piles.")
    manager.ending()
    assert listener.heard() == [
        "READY=1\nSTATUS=Watching Test yard: 1 pile.",
        "RELOADING=1\nMONOTONIC_USEC=12500000",
        "READY=1\nSTATUS=Watching Test yard: 2 piles.",
        "STOPPING=1",
    ]


def test_signs_of_life_come_as_often_as_the_manager_must_hear_them_and_no_oftener(listener, address):
    now = [100.0]
    manager = ServiceManager(address, 30.0, lambda: now[0])
    for _ in range(600):
        manager.alive()
        now[0] += 0.1
    # A minute, a third of the manager's patience apart.
    assert listener.heard() == ["WATCHDOG=1"] * (60 * SIGNS // 30)


def test_nobody_who_does_not_watch_gets_signs_of_life(listener, address):
    ServiceManager(address).alive()
    assert listener.heard() == []


def test_an_abstract_name_begins_with_a_zero_byte():
    name = f"heaptender-test-{os.getpid()}"
    heard = Listener("\0" + name)
    ServiceManager("@" + name).ending()
    assert heard.heard() == ["STOPPING=1"]
    heard.close()


@pytest.mark.parametrize(
    ("environment", "signs"),
    [
        ({"WATCHDOG_USEC": "9000000"}, 1),
        ({"WATCHDOG_USEC": "9000000", "WATCHDOG_PID": str(os.getpid())}, 1),
        ({"WATCHDOG_USEC": "9000000", "WATCHDOG_PID": "1"}, 0),
        ({"WATCHDOG_USEC": "soon"}, 0),
        ({"WATCHDOG_USEC": "0"}, 0),
        ({}, 0),
    ],
)
def test_only_the_process_that_is_watched_gives_signs_of_life(listener, address, environment, signs):
    service_manager({"NOTIFY_SOCKET": address, **environment}).alive()
    assert listener.heard() == ["WATCHDOG=1"] * signs


def test_without_a_manager_nothing_is_said_and_nothing_fails():
    manager = service_manager({})
    manager.ready("Watching.")
    manager.alive()
    manager.ending()


def test_a_manager_that_is_away_is_complained_of_once_and_stops_nothing(tmp_path, caplog):
    manager = ServiceManager(str(tmp_path / "nobody"), 3.0)
    manager.ready("Watching.")
    manager.ending()
    assert [one.getMessage().partition(" (")[0] for one in caplog.records] == ["The service manager does not listen"]


def test_a_manager_that_reads_nothing_never_holds_up_the_thread_that_stores(listener, address):
    now = [0.0]
    manager = ServiceManager(address, 3.0, lambda: now[0])
    for _ in range(1_000):
        now[0] += 1.0
        manager.alive()
    # What the wire's queue holds came; the rest is lost, as signs of life may be.
    assert 1 <= len(listener.heard()) < 1_000
    manager.ready("Watching.")
    assert listener.heard() == ["READY=1\nSTATUS=Watching."]
