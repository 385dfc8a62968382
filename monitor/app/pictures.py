"""Takes the pictures of the page that stand in the README: each sheet of the demo's yard, on a phone, a desk, at night.

    python -m monitor.app.pictures docs/pictures/

Needs playwright and Debian's chromium, which only the tests need otherwise. It runs the demo through its weekend first.
"""

import re
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

CHROMIUM = "/usr/bin/chromium"
PHONE, DESK = (390, 844), (1440, 900)
SHOTS: tuple[tuple[str, str, tuple[int, int], bool], ...] = (
    ("yard-desk", "/", DESK, False),
    ("yard-phone", "/", PHONE, False),
    ("yard-phone-night", "/", PHONE, True),
    ("pile-desk", "/place/p2", DESK, False),
    ("pile-phone", "/place/p2", PHONE, False),
    ("pile-plot", "/place/p2#over", DESK, False),
    ("bin-desk", "/place/b1", DESK, False),
    ("bin-phone-night", "/place/b1", PHONE, True),
    ("before-you-go-phone", "/before", PHONE, False),
    ("while-you-were-away-desk", "/away", DESK, False),
    ("labels-desk", "/labels", DESK, False),
    ("people-phone", "/people", PHONE, False),
)
"""(name, address, size, at night)."""


@contextmanager
def demo_page(seconds: float = 60) -> Iterator[str]:
    """Run the demo through its weekend and give the address of its page."""
    with tempfile.TemporaryDirectory(prefix="heaptender-pictures-") as folder:
        words = [sys.executable, "-m", "monitor", "demo", "--seconds", str(seconds), "--stay", "--folder", folder]
        child = subprocess.Popen(words, stdout=subprocess.PIPE, text=True)  # noqa: S603 (our own program)
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


def take(folder: Path, address: str) -> None:
    """Take all pictures of a page into a folder."""
    from playwright.sync_api import sync_playwright  # noqa: PLC0415 (only here, and in tests)

    folder.mkdir(parents=True, exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        for name, path, (width, height), night in SHOTS:
            context: Any = browser.new_context(
                viewport={"width": width, "height": height}, color_scheme="dark" if night else "light"
            )
            page = context.new_page()
            page.goto(address + path)
            page.wait_for_timeout(500)
            page.screenshot(path=str(folder / f"{name}.png"))
            context.close()
        browser.close()


def main() -> None:
    """Take the pictures into the folder that is named."""
    if len(sys.argv) != 2:
        sys.exit("usage: python -m monitor.app.pictures docs/pictures/")
    with demo_page() as address:
        take(Path(sys.argv[1]), address)


if __name__ == "__main__":
    main()
