"""A real browser for the page's tests, and an accessibility checker installed by npm when it is asked for."""

import os
import shutil
import subprocess
from pathlib import Path
from typing import NoReturn

import pytest

from tests.tools.chromium import CHROMIUM, launch

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1440, "height": 900}
SIZES = {"phone": PHONE, "desk": DESK}


def missing(what) -> NoReturn:
    """Skip, or fail where everything must be there."""
    words = f"{what} is not installed"
    if os.environ.get("CI"):
        pytest.fail(words)
    pytest.skip(words)


def start_chromium(playwright):
    if not Path(CHROMIUM).exists():
        missing(CHROMIUM)
    return launch(playwright)


def axe_source(folder):
    """Return the accessibility checker's script, installed into a folder of its own."""
    npm = shutil.which("npm")
    if npm is None:
        missing("npm")
    install = [npm, "install", "--no-save", "--no-audit", "--no-fund", "--prefix", str(folder), "axe-core"]
    done = subprocess.run(install, capture_output=True, text=True, timeout=240)
    script = folder / "node_modules" / "axe-core" / "axe.min.js"
    if done.returncode != 0 or not script.exists():
        missing(f"axe-core (npm: {done.stderr.strip()[-300:]})")
    return script.read_text(encoding="utf-8")


class Visit:
    """One browser window on the page; it keeps every address that was asked for."""

    def __init__(self, browser, base, size, *, dark=False, script=True, touch=False):
        self.base = base
        self.context = browser.new_context(
            viewport=SIZES[size],
            color_scheme="dark" if dark else "light",
            java_script_enabled=script,
            has_touch=touch,
        )
        self.asked: list[str] = []
        self.faults: list[str] = []
        self.context.on("request", lambda request: self.asked.append(request.url))
        self.page = self.context.new_page()
        self.page.set_default_timeout(60_000)
        self.page.on("pageerror", lambda fault: self.faults.append(str(fault)))
        self.page.on("console", lambda one: self.faults.append(one.text) if one.type == "error" else None)

    def go(self, path):
        self.page.goto(self.base + path, wait_until="load")
        return self.page

    def fingers(self):
        """Return a function that moves fingers on the glass: (what, (x, y), ...); real touches, not made by a script."""
        session = self.context.new_cdp_session(self.page)

        def touch(what, *places):
            points = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(places)]
            session.send("Input.dispatchTouchEvent", {"type": what, "touchPoints": points})

        return touch

    def close(self):
        self.context.close()
