"""A running daemon reads its configuration again when asked, answers for it, and tells its service manager."""

import json
import socket
import subprocess
import sys

import pytest
from brokers import wait_until
from daemon_process import HERE, DaemonProcess, toml

from tests.tools.schemas.holding import fault_of

pytestmark = pytest.mark.io
YARD = toml(None, piles=[("p1", 1)])


@pytest.fixture
def manager(tmp_path, monkeypatch):
    """The service manager's socket, which a daemon started in this test talks to."""
    wire = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    wire.bind(str(tmp_path / "manager"))
    wire.settimeout(20)
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "manager"))
    yield wire
    wire.close()


@pytest.fixture
def daemon(tmp_path, manager, monkeypatch, request):
    if patience := getattr(request, "param", ""):
        monkeypatch.setenv("WATCHDOG_USEC", patience)
    one = DaemonProcess(tmp_path, YARD).start()
    one.says("Watching")
    yield one
    one.close()


def hear(manager, word):
    """Return the next message that says something, signs of life aside."""
    while True:
        said = manager.recv(4096).decode()
        if said.startswith(word):
            return said


def asked(daemon, *words):
    """Call a command on the daemon's yard; return its exit code, what it says, and what it says on stderr."""
    done = subprocess.run(
        [sys.executable, "-m", "monitor", *words, "--config", str(daemon.config)],
        capture_output=True,
        text=True,
        cwd=HERE,
        check=False,
        timeout=60,
    )
    assert "Traceback" not in done.stderr
    return done.returncode, done.stdout, done.stderr


def test_a_changed_file_is_told_until_it_is_read_again(daemon, manager):
    assert hear(manager, "READY") == "READY=1\nSTATUS=Watching Tern Hollow allotments: 1 pile, 0 bins, 1 probe."
    assert "heaptender reload" not in asked(daemon, "status")[1]
    daemon.config.write_text(toml(None, piles=[("p1", 1)], bins=[("b1", 1)]))
    assert "was changed after the daemon read it" in asked(daemon, "status")[1]
    code, said, _ = asked(daemon, "reload")
    assert (code, said) == (0, f"The daemon has read {daemon.config}; it is in force.\n")
    assert hear(manager, "RELOADING").startswith("RELOADING=1\nMONOTONIC_USEC=")
    assert hear(manager, "READY") == "READY=1\nSTATUS=Watching Tern Hollow allotments: 1 pile, 1 bin, 2 probes."
    _, said, _ = asked(daemon, "status", "--json")
    values = json.loads(said)
    assert fault_of("status", values) == "", "of a daemon that runs, which `tests/unit/app/conftest.py` never sees"
    assert [one["place"] for one in values["bins"]] == ["b1"]
    assert values["configuration"] | {"read": ""} == {
        "file": str(daemon.config), "read": "", "changed_since": False, "refused": [],
    }  # fmt: skip


def test_a_wrong_file_is_not_handed_over_and_one_that_the_daemon_refuses_stays_out(daemon, manager):
    hear(manager, "READY")
    daemon.config.write_text(YARD + "rubbish = 1\n")
    code, said, told = asked(daemon, "reload")
    assert (code, said) == (2, "")
    assert "rubbish: this key is unknown" in told
    # Another data folder: the file is sound, and no daemon runs there.
    daemon.config.write_text(YARD.replace('data = "data"', 'data = "elsewhere"'))
    code, said, _ = asked(daemon, "reload")
    assert code == 1
    assert said.startswith("No daemon runs on ")
    # Somebody sends the signal himself: the daemon refuses, says so, and goes on as before.
    daemon.config.write_text(YARD + "rubbish = 1\n")
    daemon.process.send_signal(1)
    daemon.says("The new configuration is refused")
    wait_until(lambda: "The daemon refused the changed" in asked(daemon, "status")[1], "the refusal in its status")
    daemon.config.write_text(YARD)
    assert asked(daemon, "reload")[0] == 0


@pytest.mark.parametrize("daemon", ["600000"], indirect=True)
def test_signs_of_life_come_until_the_end_is_told(daemon, manager):
    assert [hear(manager, "WATCHDOG") for _ in range(5)] == ["WATCHDOG=1"] * 5
    assert daemon.end()[0] == 0
    assert hear(manager, "STOPPING") == "STOPPING=1"
    code, said, _ = asked(daemon, "reload")
    assert code == 1
    assert "`heaptender run` starts one" in said
