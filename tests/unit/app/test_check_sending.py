"""`check --send` says what became of a test message, whatever the server on the other side does."""

import threading
import time
from pathlib import Path

import pytest

from monitor.app.checks import connection_checks
from monitor.configuration import load_text
from monitor.outbox import DeliveryError

YARD = """
[bins.b1]
[contacts.ann]
channels = ["wire"]
[channels.wire]
url = "json://127.0.0.1:9/wire"
"""


class Wire:
    def __init__(self, does):
        self._does = does

    def send(self, letter):
        self._does()


def refuses():
    raise DeliveryError("the mail server refuses the login")


def breaks():
    raise ValueError("hunter2")


def drips():
    threading.Event().wait(5)


@pytest.mark.parametrize(
    ("does", "ok", "said"),
    [
        (lambda: None, True, "sent"),
        (refuses, False, "the mail server refuses the login"),
        (breaks, False, "the channel failed (ValueError)"),
        (drips, False, "no answer in time: not done within 0 s"),
    ],
)
def test_what_became_of_a_test_message_is_said_in_time(monkeypatch, does, ok, said):
    """A server that said a little now and then held `check --send` up for good."""
    monkeypatch.setattr(connection_checks, "build_channels", lambda _: {"wire": Wire(does)})
    monkeypatch.setattr(connection_checks, "DELIVERY_S", 0.2)
    configuration = load_text(YARD, Path("heaptender.toml"), {}, rules=set())
    begun = time.monotonic()
    found = list(connection_checks.send_test(configuration, "ann"))
    assert [(one.what, one.ok, one.words) for one in found] == [("test notice by wire", ok, said)]
    assert time.monotonic() - begun < 3
