"""The broker with an account for each node, as docs/broker.md shows it: nobody speaks for another, the daemon alone reads."""

import json
import re
import subprocess
from pathlib import Path

import pytest
from arrivals import Collector, PushedClock
from brokers import program, wait_until

pytest.importorskip("paho.mqtt", reason="paho-mqtt is not installed")
from paho.mqtt import publish

from monitor.intake import MqttConnection, MqttSource, Subscription

pytestmark = pytest.mark.io

DOCS = Path(__file__).parents[2] / "docs" / "broker.md"
T0 = 1_780_000_000


@pytest.fixture
def broker(mosquitto, tmp_path):
    text = DOCS.read_text(encoding="utf-8")
    (rights,) = re.findall(r"```text\n(user yard\n.*?)```", text, re.DOTALL)
    assert "acl_file /etc/mosquitto/rights" in text
    (tmp_path / "rights").write_text(rights)
    (tmp_path / "rights").chmod(0o600)
    accounts = tmp_path / "accounts"
    for number, name in enumerate(("yard", "shed", "tunnel")):
        words = [program("mosquitto_passwd"), "-b", *(["-c"] if number == 0 else []), str(accounts), name, f"of {name}"]
        subprocess.run(words, check=True, capture_output=True)
    accounts.chmod(0o600)
    return mosquitto(anonymous=False, lines=[f"password_file {accounts}", f"acl_file {tmp_path / 'rights'}"])


@pytest.fixture
def listen(broker):
    sources = []

    def start(name):
        sink = Collector()
        settings = MqttConnection(
            port=broker.port, subscriptions=[Subscription(topic="nodes/+/senml", form="senml")], username=name,
            password=f"of {name}", client_id=f"{name} listens", backoff_max_s=1,
        )  # fmt: skip
        sources.append(MqttSource(settings, sink, PushedClock()))
        sources[-1].start()
        wait_until(lambda: sink.links, "the link")
        return sink

    yield start
    for source in sources:
        source.stop()


def send(broker, name, topic, value):
    payload = json.dumps([{"n": "p1-a", "u": "Cel", "v": value, "t": T0 + value}])
    auth = {"username": name, "password": f"of {name}"}
    publish.single(topic, payload, qos=1, hostname="127.0.0.1", port=broker.port, auth=auth)


def test_a_node_speaks_for_itself_alone(broker, listen):
    sink = listen("yard")
    assert sink.links[-1].up
    send(broker, "shed", "nodes/shed/senml", 51)
    send(broker, "shed", "nodes/tunnel/senml", 52)
    # What the broker takes in order, it hands on in order: once this is there, nothing of the others is on its way.
    send(broker, "tunnel", "nodes/tunnel/senml", 54)
    wait_until(lambda: any(heard.micro == 54_000_000 for one in sink.arrivals for heard in one.heard), "the other node")
    values = [heard.micro // 1_000_000 for arrival in sink.arrivals for heard in arrival.heard]
    assert values == [51, 54]


def test_no_node_reads_what_another_sends(broker, listen):
    # The broker grants the subscription and hands nothing on.
    node, daemon = listen("shed"), listen("yard")
    for value in (51, 52, 53):
        send(broker, "tunnel", "nodes/tunnel/senml", value)
    wait_until(lambda: len(daemon.arrivals) == 3, "what the daemon may read")
    assert node.arrivals == []
