"""Takes the phone's first screen of six different mornings of a made-up yard, for eyes that have not seen it before.

    python -m tests.tools.mornings /tmp/mornings/

Who sees one for five seconds should know who needs a person, what to do, and why. Needs playwright and
`chromium-headless-shell`. Each morning is a record of nine days, made from curves; a daemon then serves it as it would after a
restart.
"""

import json
import math
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

from monitor.app.daemon.daemon import Daemon
from monitor.app.loop.clock import ScaledClock
from monitor.configuration import Configuration, canonical_settings, load_text
from monitor.engine import Engine
from monitor.journal import Writer, open_writer
from monitor.model.events import EventKind
from monitor.model.readings import Reading
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time
from monitor.proof.rules import rule_ids
from tests.bench.yards import free_port
from tests.tools.pictures import PHONE, take

STEP_MS = 30 * MINUTE_MS
DAYS = 9

Curve = Callable[[float], float | None]
"""A probe's value (°F or %) by hours before the morning; None: it said nothing."""

YARD = """
[site]
name = "Tern Hollow allotments"
time_zone = "America/New_York"
temperature_unit = "degF"
fire_number = "555-0100"
fire_address = "Tern Hollow allotments, gate on Mill Lane"
data = "data"
[page]
port = {port}
[piles.p1]
name = "Bay 1"
rule = "us-112-54-turned"
method = "turned"
built = 2026-07-{built}T12:00:00Z
[piles.p2]
name = "Bay 2"
built = 2026-06-20T12:00:00Z
[piles.p3]
name = "Bay 3"
built = 2026-05-30T12:00:00Z
[bins.b1]
name = "Sunny wall bin"
[bins.b2]
name = "Shed bin"
[bins.b3]
name = "Shade bin"
[contacts.ann]
name = "Ann"
[contacts.bo]
name = "Bo"
"""
PROBES = {
    "p1-a": ("p1", "core", "temperature", "60 cm"), "p1-b": ("p1", "core", "temperature", "35 cm"),
    "p2-a": ("p2", "core", "temperature", "60 cm"), "p2-b": ("p2", "core", "temperature", "35 cm"),
    "p3-a": ("p3", "core", "temperature", "60 cm"), "p3-b": ("p3", "core", "temperature", "35 cm"),
    "b1-t": ("b1", "bedding", "temperature", ""), "b1-m": ("b1", "bedding", "moisture", ""),
    "b2-t": ("b2", "bedding", "temperature", ""), "b2-m": ("b2", "bedding", "moisture", ""),
    "b3-t": ("b3", "bedding", "temperature", ""), "b3-m": ("b3", "bedding", "moisture", ""),
    "air": ("ambient", "ambient", "temperature", ""),
}  # fmt: skip


def day_and_night(mean: float, swing: float, drift: float = 0.0) -> Curve:
    """Return a curve that goes up and down with the day (warmest at five in the afternoon), and drifts by so much an hour."""
    return lambda ago: mean + swing * math.cos((ago - 14.5) * math.tau / 24) - drift * ago


def between(*knots: tuple[float, float]) -> Curve:
    """Return a curve through knots (hours before, value), the oldest first; before the first and after the last it is level."""

    def value(ago: float) -> float:
        if ago >= knots[0][0]:
            return knots[0][1]
        for (early, low), (late, high) in pairwise(knots):
            if early >= ago >= late:
                return low + (high - low) * (early - ago) / (early - late)
        return knots[-1][1]

    return value


def until(last: float, curve: Curve) -> Curve:
    """Return a curve of a probe that has been silent for some hours."""
    return lambda ago: curve(ago) if ago >= last else None


USUAL: Mapping[str, Curve] = {
    "p1-a": between((140, 96), (96, 141), (0, 148)), "p1-b": between((140, 92), (96, 136), (0, 143)),
    "p2-a": between((216, 146), (0, 141)), "p2-b": between((216, 142), (0, 136)),
    "p3-a": between((216, 141), (120, 136), (60, 108), (0, 97)), "p3-b": between((216, 138), (120, 133), (60, 104), (0, 94)),
    "b1-t": day_and_night(73, 3), "b1-m": day_and_night(74, 1),
    "b2-t": day_and_night(70, 2), "b2-m": day_and_night(76, 1),
    "b3-t": day_and_night(68, 2), "b3-m": day_and_night(72, 1),
    "air": day_and_night(72, 9),
}  # fmt: skip


@dataclass(frozen=True)
class Morning:
    """A morning: how its curves differ from the usual ones, how many hours ago Bay 1 was turned, and who has taken what."""

    at: str
    curves: Mapping[str, Curve] = field(default_factory=dict)
    turned: tuple[float, ...] = (62, 15)
    taken: tuple[tuple[str, str], ...] = ()
    known: bool = True
    built_day: int = 15


MORNINGS: Mapping[str, Morning] = {
    "quiet": Morning("2026-07-20T11:40:00Z"),
    "one-bin-hot": Morning(
        "2026-07-22T19:10:00Z",
        {"b1-t": between((140, 74), (9, 75), (0, 92.4)), "air": day_and_night(84, 11)},
        built_day=17,
    ),
    "fire": Morning(
        "2026-07-24T10:25:00Z",
        {"p2-a": between((216, 140), (30, 152), (6, 165), (0, 187)),
         "p2-b": between((216, 137), (30, 149), (6, 162), (0, 184))},
        built_day=19,
    ),
    "turning-due-and-a-silent-probe": Morning(
        "2026-07-27T11:05:00Z",
        {"p1-a": between((140, 146), (40, 142), (0, 118)), "p1-b": between((140, 144), (40, 139), (0, 112)),
         "b2-t": until(9, USUAL["b2-t"])},
        turned=(70,),
        built_day=16,
    ),
    "three-things-one-taken": Morning(
        "2026-07-30T18:30:00Z",
        {"p1-a": between((140, 150), (30, 158), (0, 174)), "p1-b": between((140, 146), (30, 154), (0, 171)),
         "b1-t": between((140, 74), (7, 78), (0, 88.6)), "b3-m": between((140, 76), (30, 80), (0, 91)),
         "air": day_and_night(82, 10)},
        taken=(("b1", "Ann"),),
        built_day=24,
    ),
    "first-day": Morning("2026-07-15T12:30:00Z", known=False),
}  # fmt: skip


def _configuration(morning: Morning, folder: Path) -> Configuration:
    text = YARD.format(port=free_port(), built=morning.built_day)
    for name, (place, role, quantity, depth) in PROBES.items():
        text += f'[probes.{name}]\nplace = "{place}"\nquantity = "{quantity}"\n'
        text += f'role = "{role}"\n' if place != "ambient" else ""
        text += f'depth = "{depth}"\n' if depth else ""
    if not morning.known:
        text = "\n".join(line for line in text.splitlines() if not line.startswith("built ="))
    return load_text(text, folder / "heaptender.toml", {}, rules=rule_ids())


def _live(writer: Writer, configuration: Configuration, morning: Morning, now: int) -> None:
    """Put nine days of readings into a record, then what people did about them."""
    begun = now - (DAYS * DAY_MS if morning.known else 5 * MINUTE_MS)
    with writer.turn(begun - 1000) as turn:
        turn.event(EventKind.STARTED, {"down_since": None})
        turn.event(EventKind.SETTINGS, {"settings": json.loads(canonical_settings(configuration.settings))})
    turnings = [now - round(hours * HOUR_MS) for hours in morning.turned if morning.known]
    for at in range(begun, now, STEP_MS) if morning.known else ():
        ago = (now - at) / HOUR_MS
        if turnings and turnings[0] <= at:
            with writer.turn(at - 1) as turn:
                turn.event(EventKind.WORK, {"time": turnings.pop(0), "place": "p1", "kind": "turned"})
        rows = []
        for name, (_, _, quantity, _) in PROBES.items():
            value = morning.curves.get(name, USUAL[name])(ago)
            if value is not None:
                heat = quantity == "temperature"
                shown = (value - 32) / 1.8 if heat else value
                rows.append(Reading(at, name, round(shown * 16) * 62_500, "Cel" if heat else "%"))
        with writer.turn(at + 1000) as turn:
            turn.readings(rows)
    with writer.turn(now) as turn:
        turn.advance(now)
    engine = writer.engine
    assert isinstance(engine, Engine)
    for place, who in morning.taken:
        key = next(key for key, one in engine.state.alarms.items() if one.place == place and one.on)
        with writer.turn(now) as turn:
            turn.event(EventKind.ANSWER, {"alarm": key, "answer": "seen", "by": who})


@contextmanager
def served(morning: Morning, folder: Path) -> Iterator[str]:
    """Serve a morning's record; gives the page's address."""
    now = parse_time(morning.at)
    configuration = _configuration(morning, folder)
    configuration.data.mkdir(parents=True)
    with open_writer(configuration.data, Engine, Engine.restore) as writer:
        _live(writer, configuration, morning, now)
    daemon = Daemon(configuration, ScaledClock(now + 2000, 1.0))
    running = threading.Thread(target=daemon.run, daemon=True)
    running.start()
    while not daemon.page.address and running.is_alive():
        time.sleep(0.05)
    try:
        yield daemon.page.address
    finally:
        daemon.stop.set()
        daemon.hub.wake()
        running.join(20)


def main() -> None:
    """Take the pictures into the folder that is named, numbered in an order that tells nothing."""
    if len(sys.argv) != 2:
        sys.exit("usage: python -m tests.tools.mornings FOLDER")
    out = Path(sys.argv[1])
    for name, morning in MORNINGS.items():
        with (
            tempfile.TemporaryDirectory(prefix="heaptender-morning-") as folder,
            served(morning, Path(folder)) as address,
        ):
            take(out, address, [(name, "/", PHONE, False)])


if __name__ == "__main__":
    main()
