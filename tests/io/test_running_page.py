"""docs/running.md typed from its first command to its last, on a made-up root: from a bare card to another computer.

Real: broker, mail server, daemon with its unit's command and its word that it is ready, kills, copies, packed yards. Stand-ins:
`sudo`, `apt-get`, `useradd`, `chown`, `python3 -m venv` and `pip` (the program is that of the test), `systemctl`, `reboot`.
"""

import os
import re
import shutil
import socket
import subprocess
import sys
import time
from pathlib import Path

import paho.mqtt.publish
import pytest
from brokers import Mosquitto, find_free_port, wait_until
from sinks import Mailbox

from monitor.journal import backup, open_reader

pytestmark = pytest.mark.io

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "running.md").read_text(encoding="utf-8")
FIRST = (ROOT / "docs" / "first-yard.md").read_text(encoding="utf-8")
PLACES = ("/var/lib/heaptender", "/var/tmp", "/opt/heaptender", "/mnt/stick")  # noqa: S108 - only names on the page
UNIT = dict(re.findall(r"^(\w+)=(.*)$", re.search(r"```ini\n(.+?)```", PAGE, re.DOTALL)[1], re.MULTILINE))
SHAPED = {
    "sudo": '[ "$1" = -u ] && shift 2; exec "$@"',
    "apt-get": ":",
    "useradd": ":",
    "chown": ":",
    # Without the owner, which this root does not know.
    "install": 'w=; for a; do case "$s$a" in -o|-g) s=x;; x*) s=;; *) w="$w $a";; esac; done; exec /usr/bin/install $w',
    "python3": f'mkdir -p "$3/bin"; printf "#!/bin/sh\\nexec {sys.executable} -m monitor \\"\\$@\\"\\n" >"$3/bin/heaptender"; '
    'printf "#!/bin/sh\\n[ \\"\\$1\\" = install ]\\n" >"$3/bin/pip"; chmod 755 "$3"/bin/*',
}
"""What stands in for a program that a test must not run, or that knows another root: its name -> shell."""


def typed():
    """Return every line of the page's sections up to photos that a person types, in order."""
    return re.findall(r"^ {4}(\S.*)$", PAGE[: PAGE.index("## What it writes to the card")], re.MULTILINE)


class Board:
    """A computer of its own: a root, what stands in for system programs, and the service."""

    def __init__(self, root):
        self.root = root
        self.service = None
        self._rc = ""
        tools = root / "tools"
        tools.mkdir(parents=True)
        for name, words in SHAPED.items():
            (tools / name).write_text(f"#!/bin/sh\n{words}\n")
            (tools / name).chmod(0o755)
        for place in ("var/tmp", "var/lib", "opt", "mnt/stick/yard"):
            (root / place).mkdir(parents=True)
        python = f"{ROOT}:{os.environ.get('PYTHONPATH', '')}"
        self.environment = {**os.environ, "PATH": f"{tools}:{os.environ['PATH']}", "PYTHONPATH": python}

    def at(self, text):
        """Return a text with its places below this root."""
        for place in PLACES:
            text = re.sub(rf"(?<![\w/-]){place}", f"{self.root}{place}", text)
        return text

    def types(self, line):
        """Run a line as typed; return what it said. It must end with 0."""
        line = self.at(line)
        if line.startswith("heaptender() "):
            self._rc = line
        elif "systemctl" in line:
            return self._systemctl(line.split()[2:])
        run = subprocess.run(
            ["/bin/sh", "-c", f"{self._rc}\n{line}"], cwd=self.root, env=self.environment,
            capture_output=True, text=True, timeout=120, check=False,
        )  # fmt: skip
        assert run.returncode == 0, f"$ {line}\n{run.stdout}{run.stderr}"
        assert "Traceback" not in run.stderr
        return run.stdout

    def _systemctl(self, words):
        verb = words[0]
        if verb in ("start", "enable"):
            self.start()
        elif verb in ("stop", "disable"):
            self.service.terminate()
            assert self.service.wait(30) == 0
        elif verb == "status":
            assert self.service.poll() is None
        else:
            assert verb == "daemon-reload"

    def start(self):
        """Start what the unit says, and wait until it says that it is ready (sd_notify)."""
        assert self.service is None or self.service.poll() is not None, "it runs already"
        address = self.root / "wire"
        address.unlink(missing_ok=True)
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as wire, (self.root / "log").open("ab") as log:
            wire.bind(str(address))
            wire.settimeout(60)
            self.service = subprocess.Popen(
                self.at(UNIT["ExecStart"]).split(), cwd=self.at(UNIT["WorkingDirectory"]), stdout=log, stderr=log,
                env={**self.environment, "NOTIFY_SOCKET": str(address)},
            )  # fmt: skip
            assert wire.recv(4096).startswith(b"READY=1"), (self.root / "log").read_text()

    def data(self):
        return self.root / "var/lib/heaptender/data"

    def readings(self):
        with open_reader(self.data()) as store:
            return [(row.probe, row.micro) for row in store.readings(store.probes(), 0, 1 << 60)]

    def off(self):
        if self.service is not None and self.service.poll() is None:
            self.service.kill()
            self.service.wait()


def test_the_page_works_from_a_bare_card_to_another_computer(tmp_path):
    broker_port, mail_port, page_port = find_free_port(), find_free_port(), find_free_port()
    broker, mail = Mosquitto(tmp_path / "broker", broker_port).start(), Mailbox(mail_port)
    board, other = Board(tmp_path / "here"), Board(tmp_path / "there")
    yard = re.search(r"```toml\n(\[site\].+?)```", FIRST, re.DOTALL)[1]
    yard = yard.replace("2525", str(mail_port)).replace(
        'host = "127.0.0.1"', f'host = "127.0.0.1"\nport = {broker_port}'
    )
    (board.root / "heaptender.toml").write_text(f"{yard}\n[page]\nport = {page_port}\n")

    def node(value):
        # Without a time of its own, one that waited at the broker would be set aside: nobody knows of when it is.
        record = f'[{{"n":"p1-a","t":{time.time():.3f},"u":"Cel","v":{value}}}]'
        paho.mqtt.publish.single("nodes/shed/senml", record, qos=1, port=broker_port)

    def arrived(computer, value):
        wait_until(lambda: ("p1-a", value * 1_000_000) in computer.readings(), f"{value} °C in the record")

    here, said = board, {}
    try:
        for line in typed():
            if "restore" in line:
                # The card has died; the copy on the stick and the files that were kept elsewhere are there.
                newest = board.root / "mnt/stick/yard" / re.search(r"journal-\S+", line)[0]
                assert newest.is_file()
                shutil.rmtree(board.data())
            if line == "sudo reboot":
                board.off()
                broker.kill()
                broker.start()
                node(58)
                board.start()
                arrived(board, 58)
                backup(board.data(), board.root / "mnt/stick/yard/journal-20260301T090000Z.sqlite")
                continue
            if line.startswith("sudo chown yard"):
                packed = "var/tmp/tern-hollow.yard"
                (board.root / packed).rename(other.root / packed)
                here = other
                for again in [one for one in typed() if re.search("-m venv|install -d|[(][)]", one)][:3]:
                    here.types(again)
            said[line] = here.types(line)
            if line.startswith("heaptender log reading"):
                assert "97 °F" in said[line]
            if "--send" in line:
                node(57)
                arrived(board, 57)
        arrived(other, 57)
        arrived(other, 58)
        node(59)
        arrived(other, 59)

        def told_to_ann(words):
            return any(words in f"{subject} {text}" for subject, text in mail.letters)

        for words in ("reach you here", "WORMS IN DANGER", "taken back"):
            wait_until(lambda words=words: told_to_ann(words), f"{words!r} to Ann; she got {mail.letters}", 90)
        assert "Bay 1" in said["heaptender status"]
        assert "was looked at" in said["heaptender restore /mnt/stick/yard/journal-20260301T090000Z.sqlite"]
        # What the new version left is aside, untouched.
        assert (board.root / "var/lib/heaptender-of-the-new-version/data/journal.db").is_file()
    finally:
        for computer in (board, other):
            computer.off()
        broker.stop()
        mail.close()
