"""Memory and processor time of the real daemon with 100 probes that speak once a minute."""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import paho.mqtt.client as mqtt

from tests.bench.process_figures import cpu_s, memory_mib
from tests.bench.yards import broker, config_text, message, probe_names

SECONDS = 60


def main() -> None:
    with broker() as port, tempfile.TemporaryDirectory() as folder:
        config = Path(folder) / "heaptender.toml"
        config.write_text(config_text(port, piles=10, bins=10, probes_each=5))
        begun = time.monotonic()
        daemon = subprocess.Popen(
            [sys.executable, "-m", "monitor", "run", "--config", str(config)], stderr=subprocess.DEVNULL
        )
        try:
            client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, protocol=mqtt.MQTTv5)
            client.connect("127.0.0.1", port)
            client.loop_start()
            time.sleep(8)
            names = probe_names(10, 10, 5)
            used = cpu_s(daemon.pid)
            start = time.monotonic()
            for number, name in enumerate(names):
                due = start + number * SECONDS / len(names)
                time.sleep(max(0.0, due - time.monotonic()))
                heat = 60.0 if name.startswith("p") else 21.0
                client.publish(f"nodes/{name}/senml", message(name, int(time.time() * 1000), heat), qos=1)
            time.sleep(max(0.0, start + SECONDS - time.monotonic()))
            share = (cpu_s(daemon.pid) - used) / (time.monotonic() - start)
            print(f"resident {memory_mib(daemon.pid):.0f} MiB (goal 100), {share:.2%} of one core (goal 1 %), "
                  f"{time.monotonic() - begun:.0f} s after its start")  # fmt: skip
            client.disconnect()
            client.loop_stop()
        finally:
            daemon.terminate()
            daemon.wait(10)
