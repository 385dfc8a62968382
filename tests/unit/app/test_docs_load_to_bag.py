"""docs/from-load-to-bag.md says of the demo's record what the commands say of it, word for word."""

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner
from test_demo_story import file

from monitor.app.command import heaptender
from monitor.model.times import parse_time

__all__ = ["file"]

PAGE = (Path(__file__).parents[3] / "docs" / "from-load-to-bag.md").read_text(encoding="utf-8")
SHOWN = re.findall(r"^ {4}heaptender ([^\n]+)\n\n```text\n(.*?)```", PAGE, re.DOTALL | re.MULTILINE)
LEFT_OUT = "…"
READ_AT = parse_time("2026-07-20T12:00:00Z")


def test_each_command_that_is_shown_is_shown_with_its_answer():
    assert len(SHOWN) == 7


@pytest.mark.parametrize(("command", "answer"), SHOWN)
def test_the_answer_is_the_one_that_is_shown(file, command, answer, monkeypatch):
    # The year stands beside days of another one than that in which it is read.
    monkeypatch.setattr("time.time_ns", lambda: READ_AT * 1_000_000)
    run = CliRunner().invoke(
        heaptender, [*shlex.split(command), "--config", str(file)], standalone_mode=False, catch_exceptions=False
    )
    assert (run.return_value or 0) == (1 if "recall" in command else 0)
    at = 0
    for piece in answer.split(f"{LEFT_OUT}\n"):
        found = run.output.find(piece, at)
        assert found >= 0, f"{command}: not said:\n{piece}"
        at = found + len(piece)
