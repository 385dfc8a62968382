"""Real parts for tests on loopback; each is started by the test that asks for it and stopped after it."""

import re
import subprocess
import sys
import threading

import pytest
from brokers import Mosquitto, find_free_port
from page_browser import Visit, axe_source, start_chromium


@pytest.fixture
def free_port():
    """A function that returns a TCP port on loopback which nobody listens on."""
    return find_free_port


@pytest.fixture
def mosquitto(tmp_path):
    """A function that starts a broker; keywords as `brokers.Mosquitto`."""
    started = []

    def start(port=None, **more):
        broker = Mosquitto(tmp_path / f"broker{len(started)}", port or find_free_port(), **more)
        started.append(broker)
        return broker.start()

    yield start
    for broker in started:
        broker.stop()


@pytest.fixture(scope="module")
def browser():
    """A real browser for the tests of a file; no longer, since while it is open no other event loop can run."""
    pytest.importorskip("playwright", reason="playwright is not installed")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        made = start_chromium(playwright)
        yield made
        made.close()


@pytest.fixture(scope="session")
def axe(tmp_path_factory):
    return axe_source(tmp_path_factory.mktemp("axe"))


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    """The demo after its weekend; gives the page's address."""
    folder = tmp_path_factory.mktemp("demo")
    words = [sys.executable, "-m", "monitor", "demo", "--seconds", "8", "--stay", "--folder", str(folder)]
    child = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    said, address = [], ""
    for line in child.stdout:
        said.append(line)
        address = address or (re.search(r"http://127\.0\.0\.1:\d+", line) or [""])[0]
        if "Monday morning" in line:
            break
    # What it goes on to say must not fill the pipe.
    rest = threading.Thread(target=child.stdout.read, daemon=True)
    rest.start()
    assert address, "".join(said)
    yield address
    child.terminate()
    child.wait(30)
    rest.join(10)
    child.stdout.close()


@pytest.fixture
def visit(browser, demo):
    """A function that opens a window on the demo's yard; nothing it asks for may come from elsewhere, nor any fault show."""
    made = []

    def open_one(size, **more):
        made.append(Visit(browser, demo, size, **more))
        return made[-1]

    yield open_one
    for one in made:
        outside = [url for url in one.asked if not url.startswith((demo, "data:"))]
        one.close()
        assert outside == []
        assert one.faults == []
