"""How long it takes from a reading's arrival to the first notice handed to its channel, at 500 readings a second."""

import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import paho.mqtt.client as mqtt

from tests.bench.yards import broker, config_text, message, probe_names

RATE = 500
SECONDS = 20
BINS = 150


def main() -> None:
    with broker() as port, tempfile.TemporaryDirectory() as folder:
        config = Path(folder) / "heaptender.toml"
        config.write_text(config_text(port, piles=4, bins=BINS, probes_each=1, channel="json://127.0.0.1:9/"))
        child = subprocess.Popen(
            [sys.executable, "-m", "tests.bench.latency", str(config)], stdout=subprocess.PIPE, text=True
        )
        assert child.stdout is not None
        assert child.stdout.readline().strip() == "ready"
        sent = _publish(port)
        child.stdin = None
        out = child.communicate(timeout=60)[0]
    handed = dict(line.split() for line in out.splitlines() if line.startswith("b"))
    waits = sorted(float(handed[bin_]) - sent[bin_] for bin_ in sent if bin_ in handed)
    if not waits:
        print("no notices came")
        return
    median, p99 = waits[len(waits) // 2], waits[min(len(waits) - 1, int(len(waits) * 0.99))]
    print(
        f"{len(waits)} of {len(sent)} notices, at {RATE} readings/s: median {median * 1000:.1f} ms, "
        f"p99 {p99 * 1000:.1f} ms, longest {waits[-1] * 1000:.1f} ms (goal: p99 under 100 ms)"
    )


def _publish(port: int) -> dict[str, float]:
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
    client.max_inflight_messages_set(2000)
    client.connect("127.0.0.1", port)
    client.loop_start()
    names = probe_names(4, BINS, 1)
    sent: dict[str, float] = {}
    begun = time.monotonic()
    hot = 0
    for number in range(RATE * SECONDS):
        due = begun + number / RATE
        while (wait := due - time.monotonic()) > 0:
            time.sleep(wait)
        now_ms = int(time.time() * 1000)
        if number >= RATE and number % (RATE * (SECONDS - 2) // BINS) == 0 and hot < BINS:
            sent[f"b{hot}"] = time.monotonic()
            client.publish(f"nodes/b{hot}-0/senml", message(f"b{hot}-0", now_ms, 36.0), qos=1)
            hot += 1
            continue
        name = names[number % 4]
        client.publish(f"nodes/{name}/senml", message(name, now_ms, 60.0 + number % 10 / 10), qos=1)
    time.sleep(1.0)
    client.disconnect()
    client.loop_stop()
    return sent


def _daemon(config: Path) -> None:
    from monitor.app.connections import deliveries
    from monitor.app.console.options import load_configuration
    from monitor.app.daemon.daemon import Daemon
    from monitor.app.loop.clock import YardClock

    handed: dict[str, float] = {}

    class Wire:
        def send(self, letter: object) -> None:
            now = time.monotonic()
            import json

            data = json.loads(letter.data)  # type: ignore[attr-defined]
            handed.setdefault(data["place"], now)

    build = deliveries.build_channels
    deliveries.build_channels = lambda configuration: {**build(configuration), "wire": Wire()}  # type: ignore[assignment]
    daemon = Daemon(load_configuration(config), YardClock(synchronised=lambda: True))

    def ready() -> None:
        time.sleep(1.5)
        print("ready", flush=True)
        time.sleep(SECONDS + 3)
        daemon.stop.set()
        daemon.hub.wake()

    threading.Thread(target=ready, daemon=True).start()
    daemon.run()
    for place, at in handed.items():
        print(place, at)
    sys.stdout.flush()
    os._exit(0)


if __name__ == "__main__":
    _daemon(Path(sys.argv[1]))
