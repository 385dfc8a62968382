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
