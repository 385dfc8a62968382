"""How fast a backlog is taken from a broker: a bare consumer that only parses the JSON, and the daemon."""

import json
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import paho.mqtt.client as mqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from tests.bench.yards import broker, config_text, message, probe_names

MESSAGES = 20_000
PILES, BINS, EACH = 5, 15, 5
RUNS = 3


def main() -> None:
    rates: dict[str, list[float]] = {"bare": [], "daemon": []}
    for _ in range(RUNS):
        for who, found in rates.items():
            with broker() as port, tempfile.TemporaryDirectory() as folder:
                config = Path(folder) / "heaptender.toml"
                config.write_text(config_text(port, piles=PILES, bins=BINS, probes_each=EACH))
                _session(port)
                _fill(port)
                child = [sys.executable, "-m", "tests.bench.mqtt_rate", who, str(port), str(config)]
                found.append(float(subprocess.run(child, check=True, capture_output=True, text=True).stdout))
    bare, daemon = (sorted(rates[who])[RUNS // 2] for who in ("bare", "daemon"))
    print(f"bare consumer (paho, json.loads, ack): {bare:,.0f} messages/s")
    print(
        f"the daemon, committed and acknowledged: {daemon:,.0f} messages/s = {daemon / bare:.0%} of the floor (goal 70 %)"
    )


def _client(port: int) -> mqtt.Client:
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, client_id="bench", protocol=mqtt.MQTTv5, manual_ack=True)
    properties = Properties(PacketTypes.CONNECT)
    properties.SessionExpiryInterval = 3600
    properties.ReceiveMaximum = 5000
    client.connect("127.0.0.1", port, 30, clean_start=False, properties=properties)
    return client


def _session(port: int) -> None:
    """Make the persistent session, so that the broker keeps what comes."""
    client = _client(port)
    done = threading.Event()
    client.on_subscribe = lambda *_: done.set()
    client.loop_start()
    client.subscribe("nodes/+/senml", qos=1)
    done.wait(5)
    client.disconnect()
    client.loop_stop()


def _fill(port: int) -> None:
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
    client.max_inflight_messages_set(2000)
    client.connect("127.0.0.1", port)
    client.loop_start()
    names = probe_names(PILES, BINS, EACH)
    start = int(time.time() * 1000) - (MESSAGES // len(names) + 1) * 10_000
    last = None
    for number in range(MESSAGES):
        turn, which = divmod(number, len(names))
        heat = 60.0 if names[which].startswith("p") else 21.0
        payload = message(names[which], start + turn * 10_000 + which, heat + (number * 7919 % 100) / 100)
        last = client.publish(f"nodes/{names[which]}/senml", payload, qos=1)
    assert last is not None
    last.wait_for_publish(120)
    client.disconnect()
    client.loop_stop()


def _bare(port: int) -> float:
    client = _client_later()
    seen, begun, done = [0], [0.0], threading.Event()

    def on_message(client: mqtt.Client, _data: object, message: mqtt.MQTTMessage) -> None:
        if not seen[0]:
            begun[0] = time.perf_counter()
        json.loads(message.payload)
        client.ack(message.mid, message.qos)
        seen[0] += 1
        if seen[0] == MESSAGES:
            begun[0] = time.perf_counter() - begun[0]
            done.set()

    client.on_message = on_message
    properties = Properties(PacketTypes.CONNECT)
    properties.SessionExpiryInterval = 3600
    properties.ReceiveMaximum = 5000
    client.connect("127.0.0.1", port, 30, clean_start=False, properties=properties)
    client.loop_start()
    done.wait(120)
    client.loop_stop()
    return MESSAGES / begun[0]


def _client_later() -> mqtt.Client:
    return mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, client_id="bench", protocol=mqtt.MQTTv5, manual_ack=True)


def _daemon(config: Path) -> float:
    from monitor.app.console.options import load_configuration
    from monitor.app.daemon.daemon import Daemon
    from monitor.app.loop.clock import YardClock

    clock = YardClock(synchronised=lambda: True)
    daemon = Daemon(load_configuration(config), clock)
    seen, begun = [0], [0.0]

    def committed(outcome: object) -> None:
        rows = outcome.new_rows  # type: ignore[attr-defined]
        if rows and not seen[0]:
            begun[0] = began[0]
        seen[0] += rows
        if rows and seen[0] >= MESSAGES:
            begun[0] = time.perf_counter() - begun[0]
            daemon.stop.set()

    began = [0.0]
    offer = daemon.hub.offer

    def first(item: object) -> None:
        if not began[0] and hasattr(item, "heard"):
            began[0] = time.perf_counter()
        offer(item)  # type: ignore[arg-type]

    daemon.hub.offer = first  # type: ignore[method-assign]
    daemon.hub.committed.append(committed)
    threading.Timer(120, daemon.stop.set).start()
    daemon.run()
    return MESSAGES / begun[0]


if __name__ == "__main__":
    print(_bare(int(sys.argv[2])) if sys.argv[1] == "bare" else _daemon(Path(sys.argv[3])))
    sys.stdout.flush()
    import os

    os._exit(0)
