"""docs/first-yard.md from its first line to its last, as a newcomer types it: real broker, mail server, daemon and commands."""

import os
import re
import subprocess
import sys
import time
from pathlib import Path

import pytest
from brokers import Mosquitto, find_free_port, wait_until
from sinks import Mailbox

pytestmark = pytest.mark.io

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "first-yard.md").read_text(encoding="utf-8")
NO = {"certify": 1}
"""Commands that end with something else than 0 on a yard of the first hour; the page says so."""
BESIDE = ("heaptender run", "heaptender listen")
"""What goes on in a window of its own."""


def fenced(language, holding):
    return next(block for block in re.findall(rf"```{language}\n(.+?)```", PAGE, re.DOTALL) if holding in block)


def typed():
    """Return every line that the page has a person type, in order; installing is tried elsewhere."""
    lines = re.findall(r"^ {4}(\S.*)$", PAGE, re.MULTILINE)
    assert lines[0].startswith("python3 -m venv")
    assert lines[1] == ". .venv/bin/activate"
    return lines[2:]


class Newcomer:
    """Types into a window of their own, where `heaptender` and `python` are found."""

    def __init__(self, home):
        self.home = home
        tools = home / "tools"
        tools.mkdir()
        for name, words in (("heaptender", f'{sys.executable} -m monitor "$@"'), ("python", f'{sys.executable} "$@"')):
            (tools / name).write_text(f"#!/bin/sh\nexec {words}\n")
            (tools / name).chmod(0o755)
        self.environment = {
            **os.environ,
            "HOME": str(home),
            "PATH": f"{tools}:{os.environ['PATH']}",
            "PYTHONPATH": f"{ROOT}:{os.environ.get('PYTHONPATH', '')}",
        }
        self.folder = home
        self.beside = []

    def types(self, line):
        """Run a line; return (exit code, what it said)."""
        if line.startswith("mkdir"):
            self.folder = Path(line.split("cd ")[1].replace("~", str(self.home)))
        run = subprocess.run(
            ["/bin/sh", "-c", line], cwd=self.home if line.startswith("mkdir") else self.folder, env=self.environment,
            capture_output=True, text=True, timeout=120, check=False,
        )  # fmt: skip
        return run.returncode, run.stdout + run.stderr

    def opens(self, line):
        """Let a line run in a second window; return where its words go."""
        words = self.folder / f"window-{len(self.beside)}.txt"
        with words.open("w") as out:
            one = subprocess.Popen(line.split(), cwd=self.folder, env=self.environment, stdout=out, stderr=out)
        self.beside.append(one)
        return words

    def leaves(self):
        for one in self.beside:
            one.terminate()
        for one in self.beside:
            one.wait(30)


@pytest.fixture
def newcomer(tmp_path):
    made = Newcomer(tmp_path)
    yield made
    made.leaves()


def test_the_page_works_from_its_first_line_to_its_last(newcomer, tmp_path):
    broker_port, mail_port, page_port = find_free_port(), find_free_port(), find_free_port()
    broker = Mosquitto(tmp_path / "broker", broker_port)
    asked = fenced("conf", "max_queued_messages").replace("1883", str(broker_port)).split("\n")
    assert {*filter(None, asked)} <= {*(tmp_path / "broker" / "mosquitto.conf").read_text().split("\n")}
    broker.start()
    mail = Mailbox(mail_port)

    def here(text):
        return text.replace("2525", str(mail_port)).replace(
            'host = "127.0.0.1"', f'host = "127.0.0.1"\nport = {broker_port}'
        )

    try:
        said = {}
        for line in typed():
            if line.startswith("mkdir"):
                assert newcomer.types(line)[0] == 0
                own = f"{here(fenced('toml', '[piles.p1]'))}\n[page]\nport = {page_port}\n"
                (newcomer.folder / "heaptender.toml").write_text(own)
                continue
            if line in BESIDE:
                words = newcomer.opens(line)
                up = "mqtt is up" if "run" in line else "connected"
                wait_until(
                    lambda words=words, up=up: up in words.read_text(), f"{up!r} from {line}:\n{words.read_text()}", 60
                )
                said[line] = words
                continue
            code, told = newcomer.types(line.replace("qos=1)", f"qos=1, port={broker_port})"))
            said[line] = told
            verb = line.split()[1] if line.startswith("heaptender") else ""
            assert code == NO.get(verb, 0), f"$ {line}\n{told}"
            assert "Traceback" not in told
            if "publish" in line:
                wait_until(
                    lambda: "p1-a" in said["heaptender listen"].read_text(), "the message in the second window", 20
                )
                time.sleep(0.5)
        assert "97 °F" in said["heaptender log reading b1 97 degF --by Ann"]
        assert "Bay 1" in said["heaptender status"]

        # Ann was tried, warned of the worms, and told that it was a mistake.
        def told_to_ann(words):
            return any(words in f"{subject} {text}" for subject, text in mail.letters)

        for words in ("reach you here", "WORMS IN DANGER", "taken back"):
            wait_until(lambda words=words: told_to_ann(words), f"{words!r} to Ann; she got {mail.letters}", 90)
        assert (newcomer.folder / "bay1.pdf").read_bytes().startswith(b"%PDF")
    finally:
        broker.stop()
        mail.close()
