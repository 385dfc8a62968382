"""Takes the pictures of the page that stand in the README: each sheet of the demo's yard, on a phone, a desk, at night.

    python -m tests.tools.pictures docs/pictures/

Needs playwright and `chromium-headless-shell`, which only the tests need otherwise. It runs the demo through its weekend
first; a fire, which the demo has not, is a morning of `mornings`.
"""

import re
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from monitor.simulate.season_yard import CASTINGS_LOT
from tests.tools.chromium import launch

PHONE, DESK = (390, 844), (1440, 900)
MIX = "/mix?" + urlencode(
    {"material_1": "stable litter", "amount_1": "800", "measure_1": "lb", "use_1": "all", "material_2": "leaves",
     "material_3": "coffee grounds", "amount_3": "120", "measure_3": "lb", "bay": "5 x 5 ft"}
)  # fmt: skip
SHOTS: tuple[tuple[str, str, tuple[int, int], bool], ...] = (
    ("yard-desk", "/", DESK, False),
    ("yard-phone", "/", PHONE, False),
    ("yard-phone-night", "/", PHONE, True),
    ("pile-desk", "/place/p2", DESK, False),
    ("pile-phone", "/place/p2", PHONE, False),
    ("pile-desk-night", "/place/p2", DESK, True),
    ("pile-plot", "/place/p2#over", DESK, False),
    ("bin-desk", "/place/b1", DESK, False),
    ("bin-phone-night", "/place/b1", PHONE, True),
    ("mix-phone", f"{MIX}#answer", PHONE, False),
    ("before-you-go-phone", "/before", PHONE, False),
    ("while-you-were-away-desk", "/away", DESK, False),
    ("labels-desk", "/labels", DESK, False),
    ("slip-desk", "/slip/p2", DESK, False),
    ("people-phone", "/people", PHONE, False),
    ("stock-phone", "/stock", PHONE, False),
    ("stock-desk", "/stock", DESK, False),
    ("lot-phone", f"/lots/{CASTINGS_LOT}#inputs", PHONE, False),
    ("lot-phone-night", f"/lots/{CASTINGS_LOT}#inputs", PHONE, True),
    ("lot-desk", f"/lots/{CASTINGS_LOT}", DESK, False),
    ("recall-phone", "/recall?what=d1", PHONE, False),
    ("diary-phone", "/diary", PHONE, False),
    ("season-desk", "/season", DESK, False),
    ("season-phone-night", "/season", PHONE, True),
    ("report-desk", "/report?season=2026", DESK, False),
)
"""(name, address, size, at night)."""
NAME = "yard.example"
"""What the yard is called where a phone asks for it: by a name, so that the password is asked."""
GATE_SHOTS: tuple[tuple[str, str, tuple[int, int], bool], ...] = (
    ("sign-in-phone", "/enter", PHONE, False),
    ("bag-phone", "bag", PHONE, False),
    ("seen-link-phone", "", PHONE, False),
    ("seen-link-phone-night", "", PHONE, True),
)
"""As `SHOTS`; "" is the link of the newest message, `bag` that of a bag, for whoever scans it."""

FIRE_SHOTS: tuple[tuple[str, str, tuple[int, int], bool], ...] = (
    ("fire-phone", "/", PHONE, False),
    ("fire-phone-night", "/", PHONE, True),
    ("fire-desk", "/", DESK, False),
    ("fire-desk-night", "/", DESK, True),
)
"""As `SHOTS`, of a morning on which a heap burns, with the fire number of the site."""


@contextmanager
def demo_page(folder: Path, seconds: float = 60) -> Iterator[str]:
    """Run the demo in a folder through its weekend and give the address of its page."""
    words = [sys.executable, "-m", "monitor", "demo", "--seconds", str(seconds), "--stay", "--folder", str(folder)]
    child = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    address = ""
    for line in child.stdout:
        found = re.search(r"http://127\.0\.0\.1:\d+", line)
        address = address or (found[0] if found else "")
        if "Monday morning" in line:
            break
    # What it goes on to say must not fill the pipe.
    threading.Thread(target=child.stdout.read, daemon=True).start()
    try:
        yield address
    finally:
        child.terminate()
        child.wait(30)


@contextmanager
def gate_page(folder: Path) -> Iterator[tuple[str, dict[str, str]]]:
    """Serve what the demo left with a password and under a name; give its address, and the paths of links that need none."""
    from monitor.app.daemon.daemon import Daemon
    from monitor.app.loop.clock import ScaledClock
    from monitor.configuration import load_text
    from monitor.page import SeenLink, bag_address, load_key, seen_address
    from monitor.proof.rules import rule_names

    kept = (folder / "heaptender.toml").read_text(encoding="utf-8")
    for part in ("page", r"serial\.\w+"):
        kept = re.sub(rf"(?ms)^\[{part}\].*?(?=^\[|\Z)", "", kept)
    text = f'{kept}\n[page]\nlink = "http://{NAME}"\nhosts = ["{NAME}"]\npassword = "not this one"\n'
    configuration = load_text(text, folder / "heaptender.toml", {}, rules=rule_names())
    at, contact, last = _newest_told(configuration.data)
    daemon = Daemon(configuration, ScaledClock(last + 60_000, 1.0), any_port=True)
    running = threading.Thread(target=daemon.run, daemon=True)
    running.start()
    while not daemon.page.address:
        time.sleep(0.1)
    port = daemon.page.address.rsplit(":", 1)[1] if daemon.page.address.count(":") > 1 else str(configuration.page.port)
    try:
        key = load_key(configuration.data)
        links = {"": seen_address("", key, SeenLink(at, contact)), "bag": bag_address("", key, CASTINGS_LOT, last)}
        yield f"http://{NAME}:{port}", links
    finally:
        daemon.stop.set()
        daemon.hub.wake()
        running.join(20)


def _newest_told(data: Path) -> tuple[int, str, int]:
    """Return the newest message about one place: its instant, whom it went to, and how far the record reaches."""
    from monitor.journal import open_reader
    from monitor.model.effects import EffectKind

    with open_reader(data) as store:
        told = [
            effect
            for effect in store.effects()
            if effect.draft.kind is EffectKind.NOTICE and effect.draft.place and effect.draft.values.get("keys")
        ]
        last = store.mark().latest()
    assert last is not None
    return told[-1].at, str(told[-1].draft.after), last


def take(folder: Path, address: str, shots: Sequence[tuple[str, str, tuple[int, int], bool]] = SHOTS) -> None:
    """Take pictures of a page into a folder."""
    from playwright.sync_api import sync_playwright

    folder.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as playwright:
        browser = launch(playwright)
        for name, path, (width, height), night in shots:
            context: Any = browser.new_context(
                viewport={"width": width, "height": height}, color_scheme="dark" if night else "light"
            )
            page = context.new_page()
            page.goto(address + path)
            # A typeface that comes late is only kept: the page shows it when it is opened again.
            page.evaluate("Promise.all([...document.fonts].map(face => face.load()))")
            page.reload()
            page.wait_for_timeout(500)
            if not page.evaluate("[...document.fonts].some(face => face.status === 'loaded')"):
                print(f"{name}: without the page's own typeface", file=sys.stderr)
            page.screenshot(path=str(folder / f"{name}.png"))
            context.close()
        browser.close()


def main() -> None:
    """Take the pictures into the folder that is named."""
    if len(sys.argv) != 2:
        sys.exit("usage: python -m tests.tools.pictures docs/pictures/")
    out = Path(sys.argv[1])
    with tempfile.TemporaryDirectory(prefix="heaptender-pictures-") as name:
        folder = Path(name) / "yard"
        with demo_page(folder) as address:
            take(out, address)
        with gate_page(folder) as (address, links):
            take(out, address, [(shot, links.get(path, path), size, night) for shot, path, size, night in GATE_SHOTS])
        from tests.tools.mornings import MORNINGS, served

        with served(MORNINGS["fire"], Path(name) / "fire") as address:
            take(out, address, FIRE_SHOTS)


if __name__ == "__main__":
    main()
