"""The parts of a round: broker, tap, receivers, disk, nodes, people and the daemon, in a folder of their own."""

import os
import random
import signal
import time
from collections import Counter

import pytest
from brokers import Mosquitto, find_free_port
from daemon_process import DaemonProcess
from sinks import Mailbox, WebHook

from tests.faults.ledger import Broken, day_of
from tests.faults.yard import toml

from .books import Books, SharedCounts
from .kinds import KINDS
from .load import ROW, Asking, Nodes
from .mirror_sink import MirrorSink
from .storage import Storage
from .tap import Tap


class QuickDaemon(DaemonProcess):
    """The daemon, whose jobs come every few seconds."""

    module = "tests.faults.campaign.quick_daemon"

    def whole_log(self):
        """Return what all starts wrote."""
        return self._log_file.read_text()


class Parts:
    """The parts of the round of a seed; `kinds` of faults are drawn from it unless they are given."""

    def __init__(self, seed, folder, *, kinds=(), own_disk=True):
        self.seed, self.folder = seed, folder
        self.chance = random.Random(seed)
        drawn = self.chance.sample(sorted(KINDS), self.chance.choice([1, 2, 2, 3, 3]))
        self.kinds = list(kinds) or drawn
        self.counts = SharedCounts()
        self.books = Books(self.counts)
        self.books.today = day_of(int(time.time() * 1000))
        self.jobs, self.job_times, self._jobs_read = Counter(), [], 0
        self.copies = {}
        self.kills, self._full_since = [], None
        self.first_start_s = None
        self.broker_forgets = self.lied = self.damaged = self.may_fail = self.has_restored = False
        self.wrong_settings = self.may_be_strange = self.outage_to_tell = False
        self._agenda, self._armed = [], []
        self._wanted, self._start_at, self._doing = False, 0.0, ""
        self._begun, self._lively = time.monotonic(), False
        self._open = []
        try:
            self._build(own_disk)
        except BaseException:
            self.close()
            raise

    def _build(self, own_disk):
        folder, chance = self.folder, self.chance
        folder.mkdir(parents=True)
        (folder / "copies").mkdir()
        self.notes = folder / "notes"
        self.notes.mkdir()
        self.broker = self._opened(Mosquitto(folder / "broker", find_free_port()), lambda one: one.stop(signal.SIGKILL))
        self.broker.start()
        self.tap = self._opened(Tap(self.broker.port, self.books.acknowledge, self.counts))
        self.hook = self._opened(WebHook(answers_after_s=chance.choice([0.0, 0.3])))
        self.hook.heard = lambda *letter: self.books.deliver("wire", *letter)
        self.mailbox = self._opened(Mailbox(find_free_port()))
        self.mailbox.heard = lambda *letter: self.books.deliver("mail", *letter)
        self.mirror = self._opened(MirrorSink(self.counts))
        self.storage = self._opened(Storage(folder / "data", chance, self.counts, own=own_disk))
        self.nodes = self._opened(Nodes(self.broker.port, self.books, random.Random(self.seed + 1)))
        self.asking = self._opened(Asking(folder / "data", self.books, random.Random(self.seed + 2)))
        self.old_days = "killed dropping days" in self.kinds or chance.random() < 0.25
        self._text = self.yard_text()
        self.daemon = self._opened(QuickDaemon(folder, self._text))
        # As under the unit of docs/running.md, the service has a folder that lasts while it is started anew.
        runtime = folder / "runtime"
        runtime.mkdir()
        self.daemon.environment = {
            **os.environ, "CAMPAIGN_NOTES": str(self.notes), "RUNTIME_DIRECTORY": str(runtime),
        }  # fmt: skip

    def _opened(self, one, close=None):
        self._open.append((close and (lambda: close(one))) or one.close)
        return one

    def yard_text(self, **shape):
        """Return the configuration of the yard, with everything where this round has it."""
        text = toml(**{"gather": "1s", "keep_days": 3 if self.old_days else None} | shape)
        for before, after in (
            ('"json://127.0.0.1/wire"', f'"{self.hook.url}"'),
            ('"json://127.0.0.1/mail"', f'"{self.mailbox.url}"'),
            ("http://127.0.0.1:8086", self.mirror.url),
            # One way to each, so that two of them never get one letter at the same address.
            ('channels = ["wire", "mail"]', 'channels = ["wire"]'),
            ('data = "data"', f'data = "{self.folder / "data"}"'),
            ('folder = "data/copies"\nevery = "24h"', f'folder = "{self.folder / "copies"}"\nevery = "3s"'),
            ("[mqtt]\n", f'[mqtt]\nhost = "127.0.0.1"\nport = {self.tap.port}\nclient_id = "campaign"\n'),
        ):
            if before not in text:
                raise Broken(f"the yard's configuration has no {before!r}")
            text = text.replace(before, after, 1)
        for name in ROW:
            text += f'[bins.{name}]\nname = "Row {name[1:]}"\n[probes.{name}-a]\nplace = "{name}"\n'
        return f'{text}[serial.shed]\nurl = "{self.nodes.port_name}"\nform = "lines"\n'

    def close(self):
        """End every part, and leave nothing running; the folder stays."""
        for close in reversed(self._open):
            try:
                close()
            except (Exception, pytest.fail.Exception):  # noqa: BLE001 - the other parts must end too
                self.counts.note("parts that did not end well")
