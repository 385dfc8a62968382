"""docs/Containerfile against the program: nobody builds it here, but what it names must be there, and its check must tell."""

import json
import re
import shlex
import subprocess
import sys
import threading
import tomllib
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from monitor.app.command import SUMMARIES
from monitor.configuration import load_text
from monitor.page.server.vital_addresses import HEALTH

ROOT = Path(__file__).parents[3]
TEXT = (ROOT / "docs" / "Containerfile").read_text(encoding="utf-8")
LINES = [line.partition(" ")[::2] for line in TEXT.splitlines() if line and not line.startswith("#")]
CHECK = json.loads(re.search(r"CMD (\[.+\])$", dict(LINES)["HEALTHCHECK"])[1])


def last_stage():
    begins = max(number for number, (word, _) in enumerate(LINES) if word == "FROM")
    return LINES[begins + 1 :]


def test_it_holds_nothing_but_instructions_and_names_no_registry():
    known = {
        "ARG",
        "FROM",
        "WORKDIR",
        "COPY",
        "RUN",
        "USER",
        "ENV",
        "VOLUME",
        "EXPOSE",
        "HEALTHCHECK",
        "ENTRYPOINT",
        "CMD",
    }
    assert {word for word, _ in LINES} <= known
    base = next(words for word, words in LINES if word == "ARG").removeprefix("BASE=")
    assert "/" not in base
    assert {words.split()[0] for word, words in LINES if word == "FROM"} == {"${BASE}"}


def test_what_is_copied_and_installed_is_there():
    sources = [path for word, words in LINES if word == "COPY" and "--from" not in words for path in words.split()[:-1]]
    assert {"pyproject.toml", "monitor"} <= set(sources)
    for path in sources:
        assert (ROOT / path).exists(), path
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert project["readme"] in sources
    extras = re.search(r'pip install .*"\.\[(.+)\]"', TEXT)[1].split(",")
    assert set(extras) <= set(project["optional-dependencies"])
    assert project["requires-python"] == ">=3.11"
    assert int(re.search(r"python:3\.(\d+)", TEXT)[1]) >= 11


def test_the_daemon_runs_as_a_user_of_its_own_on_the_volume():
    stage = dict(last_stage())
    uid = stage["USER"]
    assert int(uid) >= 1000
    assert f"--uid {uid} " in TEXT
    assert stage["VOLUME"] == stage["WORKDIR"]
    environment = dict(one.split("=") for one in shlex.split(stage["ENV"]))
    assert Path(environment["HEAPTENDER_CONFIG"]) == Path(stage["VOLUME"]) / "heaptender.toml"
    assert json.loads(stage["ENTRYPOINT"])[0].endswith("/heaptender")
    assert json.loads(stage["CMD"])[0] in SUMMARIES


def test_it_asks_and_opens_the_page_where_it_is():
    site = '[site]\ntime_zone = "UTC"\ntemperature_unit = "degC"\n'
    page = load_text(site, Path("heaptender.toml"), {}, rules=set()).page
    assert f"http://127.0.0.1:{page.port}{HEALTH}" in CHECK[-1]
    assert dict(last_stage())["EXPOSE"] == str(page.port)


@pytest.mark.parametrize("status", [200, 503])
def test_the_health_check_passes_only_where_the_page_says_that_all_is_stored(status):
    class Page(BaseHTTPRequestHandler):
        def do_GET(self):
            self.send_response(status if self.path == HEALTH else 404)
            self.end_headers()

        def log_message(self, *words):
            pass

    with HTTPServer(("127.0.0.1", 0), Page) as server:
        asked = [sys.executable, *CHECK[1:-1], CHECK[-1].replace("8460", str(server.server_port))]
        serving = threading.Thread(target=server.handle_request)
        serving.start()
        assert subprocess.run(asked, stderr=subprocess.DEVNULL).returncode == (0 if status == 200 else 1)
        serving.join(10)
    assert subprocess.run(asked, stderr=subprocess.DEVNULL).returncode == 1
