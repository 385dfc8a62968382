"""A command as a person types it, run in this process: what a process of its own costs is not paid for each word typed."""

import io
import sys
from contextlib import redirect_stderr, redirect_stdout
from unittest.mock import patch

import pytest

from monitor.app.command import main


def typed(*words, code=0):
    """Return what `heaptender` says to the words, on both its outputs; it must leave with the code."""
    # Exports go past the text to the bytes below it.
    raw, said = io.BytesIO(), io.StringIO()
    out = io.TextIOWrapper(raw, encoding="utf-8", write_through=True)
    with redirect_stdout(out), redirect_stderr(said), patch.object(sys, "argv", ["heaptender", *map(str, words)]):
        with pytest.raises(SystemExit) as left:
            main()
        out.flush()
    text, told = raw.getvalue().decode(), said.getvalue()
    assert left.value.code == code, (text, told)
    assert "Traceback" not in told
    return text + told


def call(yard, *words, code=0):
    """Return what `heaptender` says to the words about the yard in a folder; it must leave with the code."""
    return typed(*words, "--config", yard / "heaptender.toml", code=code)


def yard_of(text):
    """Return a fixture: a folder with a configuration of this text."""

    @pytest.fixture
    def yard(tmp_path):
        (tmp_path / "heaptender.toml").write_text(text)
        return tmp_path

    return yard


ENTRIES = """
[site]
name = "Test yard"
time_zone = "America/New_York"
temperature_unit = "degF"
data = "data"
[piles.p1]
name = "Bay 1"
rule = "us-112-54-turned"
method = "turned"
built = 2026-02-20T09:00:00Z
[piles.p2]
name = "Bay 2"
[piles.p3]
name = "Bay 3"
[bins.b1]
name = "Wall bin"
[probes.p1-a]
place = "p1"
role = "core"
[probes.b1-t]
place = "b1"
role = "bedding"
"""
"""A yard for entries: three bays, of which the first holds a heap, and a bin."""
