"""Three yards behind one broker and one time-series server, with probes of the same names: they share nothing else."""

import json
import re
import subprocess
import time
import urllib.parse
import urllib.request
from pathlib import Path

import pytest
from brokers import program, wait_until
from daemon_process import DaemonProcess, toml
from metrics_server import MetricsServer

pytest.importorskip("paho.mqtt", reason="paho-mqtt is not installed")
from paho.mqtt import publish

from monitor.journal import open_reader
from monitor.model.events import EventKind

pytestmark = pytest.mark.io

DOCS = Path(__file__).parents[2] / "docs" / "scale.md"
YARDS = ("tern", "wren", "rook")
EACH = 10


@pytest.fixture
def metrics(tmp_path):
    server = MetricsServer(tmp_path / "metrics").start()
    yield server
    server.stop()


@pytest.fixture
def broker(mosquitto, tmp_path):
    """The broker with the rights that the page shows for one yard, for each of three."""
    (rights,) = re.findall(r"```text\n(user tern\n.*?)```", DOCS.read_text(encoding="utf-8"), re.DOTALL)
    (tmp_path / "rights").write_text("\n".join(rights.replace("tern", yard) for yard in YARDS))
    (tmp_path / "rights").chmod(0o600)
    accounts = tmp_path / "accounts"
    accounts.touch()
    for name in [name for yard in YARDS for name in (yard, f"{yard}-shed")]:
        words = [program("mosquitto_passwd"), "-b", str(accounts), name, f"of {name}"]
        subprocess.run(words, check=True, capture_output=True)
    accounts.chmod(0o600)
    return mosquitto(anonymous=False, lines=[f"password_file {accounts}", f"acl_file {tmp_path / 'rights'}"])


@pytest.fixture
def yards(broker, metrics, tmp_path):
    made = {}
    for yard in YARDS:
        (tmp_path / yard).mkdir()
        text = toml(broker.port, piles=[("p1", 1)], client=f"yard {yard}",
                    more=f'[mirror]\nurl = "{metrics.url}"\nyard = "{yard}"')  # fmt: skip
        signs_in = f'username = "{yard}"\npassword = "of {yard}"\n'
        text = text.replace(f'client_id = "yard {yard}"', f'client_id = "yard {yard}"\n{signs_in}')
        # This one asks for everybody's topics; what it gets is the broker's to say.
        topic = "yards/+/nodes/+/senml" if yard == "wren" else f"yards/{yard}/nodes/+/senml"
        made[yard] = DaemonProcess(tmp_path / yard, text.replace("nodes/+/senml", topic)).start()
    try:
        for daemon in made.values():
            daemon.subscribed()
        yield made
    finally:
        for daemon in made.values():
            daemon.close()


def send(broker, account, yard, values, began):
    """Have a node of one yard publish readings of a yard's first probe, a second apart."""
    topic, auth = f"yards/{yard}/nodes/shed/senml", {"username": account, "password": f"of {account}"}
    messages = [(topic, json.dumps([{"n": "p1-0", "u": "Cel", "v": value, "t": began + n}]), 1, False)
                for n, value in enumerate(values)]  # fmt: skip
    publish.multiple(messages, hostname="127.0.0.1", port=broker.port, auth=auth)


def stored(daemon):
    """Return the values in a yard's record, in whole degrees, by their own time."""
    with open_reader(daemon.data) as store:
        return [row.micro // 1_000_000 for row in store.readings(["p1-0"], 0, 1 << 50)]


def mirrored(metrics):
    """Return the values on the server by yard."""
    urllib.request.urlopen(f"{metrics.url}/internal/force_flush", timeout=10).close()
    asked = urllib.parse.urlencode({"match[]": "heaptender_reading_raw", "start": "2026-01-01T00:00:00Z"})
    with urllib.request.urlopen(f"{metrics.url}/api/v1/export?{asked}", timeout=10) as answer:
        series = [json.loads(line) for line in answer.read().splitlines()]
    return {one["metric"]["yard"]: one["values"] for one in series}


def test_yards_share_a_broker_and_a_server_and_nothing_else(broker, yards, metrics):
    began = int(time.time()) - 600
    wanted = {yard: [base + n for n in range(EACH)] for yard, base in zip(YARDS, (20, 40, 60), strict=True)}
    for yard in YARDS:
        # The times are the same everywhere, so that points could only be told apart by the yard.
        send(broker, f"{yard}-shed", yard, wanted[yard], began)
    send(broker, "rook-shed", "tern", [99], began + 300)
    send(broker, "wren", "tern", [98], began + 301)
    for yard in YARDS:
        wait_until(lambda yard=yard: len(stored(yards[yard])) >= EACH, f"the readings of {yard}")
    assert {yard: stored(yards[yard]) for yard in YARDS} == wanted

    yards["rook"].kill()
    for yard in YARDS:
        more = [value + EACH for value in wanted[yard]]
        send(broker, f"{yard}-shed", yard, more, began + 100)
        wanted[yard] += more
    for yard in ("tern", "wren"):
        wait_until(lambda yard=yard: len(stored(yards[yard])) >= 2 * EACH, f"further readings of {yard}")
    assert len(stored(yards["rook"])) == EACH
    yards["rook"].start().subscribed()
    wait_until(lambda: len(stored(yards["rook"])) >= 2 * EACH, "what waited at the broker for the yard that was away")
    assert {yard: stored(yards[yard]) for yard in YARDS} == wanted
    for yard in ("tern", "wren"):
        with open_reader(yards[yard].data) as store:
            links = [event.payload for event in store.events_of(EventKind.LINK)]
        assert all(link["up"] for link in links), f"{yard} noticed another yard's end"

    wait_until(lambda: sum(map(len, mirrored(metrics).values())) >= 6 * EACH, "all points on the server", 60)
    assert mirrored(metrics) == wanted
