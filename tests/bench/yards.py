"""Yards, brokers and messages for the benchmarks."""

import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

START_MS = 1_790_000_000_000


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@contextmanager
def broker() -> Iterator[int]:
    """A mosquitto on loopback that drops nothing and keeps nothing; yields its port."""
    with broker_process() as (port, _):
        yield port


@contextmanager
def broker_process(*, keeps: bool = False) -> Iterator[tuple[int, int]]:
    """A mosquitto on loopback that drops nothing; yields its port and its process.

    `keeps`: it is set up as docs/broker.md has it, and keeps its sessions on another disk than the daemon under test.
    """
    port, program = free_port(), shutil.which("mosquitto") or "/usr/sbin/mosquitto"
    with tempfile.TemporaryDirectory(dir="/var/tmp" if keeps else None) as folder:  # noqa: S108 - another disk than /tmp
        lines = [f"listener {port} 127.0.0.1", "allow_anonymous true", "max_queued_messages 0"]
        if keeps:
            lines += ["persistence true", f"persistence_location {folder}/", "autosave_interval 60"]
            lines += ["user root"] if os.geteuid() == 0 else []
        else:
            lines += ["max_inflight_messages 0"]
        config = Path(folder) / "mosquitto.conf"
        config.write_text("\n".join([*lines, ""]))
        process = subprocess.Popen([program, "-c", str(config)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            for _ in range(100):
                with socket.socket() as one:
                    if one.connect_ex(("127.0.0.1", port)) == 0:
                        break
                time.sleep(0.05)
            yield port, process.pid
        finally:
            process.terminate()
            process.wait()


def config_text(port: int, *, piles: int, bins: int, probes_each: int, channel: str = "") -> str:
    """A yard of piles and bins with as many probes each, listening to one topic."""
    lines = [
        '[site]\nname = "Bench"\ntime_zone = "UTC"\ntemperature_unit = "degC"\ndata = "data"',
        f'[mqtt]\nhost = "127.0.0.1"\nport = {port}\nclient_id = "bench"',
        '[[mqtt.subscriptions]]\ntopic = "nodes/+/senml"\nform = "senml"',
    ]
    for kind, count, role in (("piles", piles, "core"), ("bins", bins, "bedding")):
        for number in range(count):
            place = f"{kind[0]}{number}"
            lines.append(f'[{kind}.{place}]\nname = "{place}"')
            if kind == "piles":
                lines.append('rule = "us-112-54-turned"\nmethod = "turned"')
            lines += [
                f'[probes.{place}-{n}]\nplace = "{place}"\nrole = "{role}"\nquantity = "temperature"'
                for n in range(probes_each)
            ]
    if channel:
        lines.append(
            f'[contacts.ann]\nname = "Ann"\nchannels = ["wire"]\nquiet = "none"\n[channels.wire]\nurl = "{channel}"'
        )
    return "\n".join(lines) + "\n"


def probe_names(piles: int, bins: int, probes_each: int) -> list[str]:
    places = [f"p{n}" for n in range(piles)] + [f"b{n}" for n in range(bins)]
    return [f"{place}-{n}" for place in places for n in range(probes_each)]


def message(probe: str, time_ms: int, value: float) -> bytes:
    """A single-record SenML pack of the size that libraries.md measured (about 145 bytes)."""
    return (
        f'[{{"bn":"{probe}","bt":{time_ms / 1000:.3f},"bver":10,"n":"","u":"Cel","v":{value:.4f},'
        f'"ut":120,"battery_note":"not used by the daemon, ignored by the standard"}}]'
    ).encode()
