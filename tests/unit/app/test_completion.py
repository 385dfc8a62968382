"""A shell completes commands and options, as `docs/running.md` tells how to have it."""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

DOCUMENT = (Path(__file__).parents[3] / "docs" / "running.md").read_text()


def shell(words, how, **more):
    """Call the program as a shell does that wants to complete the last word."""
    environment = (
        os.environ | {"_HEAPTENDER_COMPLETE": how, "COMP_WORDS": words, "COMP_CWORD": str(words.count(" "))} | more
    )
    done = subprocess.run(
        [sys.executable, "-m", "monitor"], capture_output=True, text=True, check=False, env=environment, timeout=60
    )
    assert "Traceback" not in done.stderr
    return done.stdout


def completed(words):
    return [line.partition(",")[2] for line in shell(words, "bash_complete").splitlines()]


def test_the_document_names_the_variable_that_works():
    assert re.search(r"eval \"\$\(_HEAPTENDER_COMPLETE=bash_source heaptender\)\"", DOCUMENT)
    assert "complete" in shell("", "bash_source")


@pytest.mark.parametrize("kind", ["zsh_source", "fish_source"])
def test_other_shells_get_their_own(kind):
    assert "heaptender" in shell("", kind)


def test_commands_and_options_are_completed():
    assert sorted(completed("heaptender re")) == ["recipe", "reload", "replay", "report", "restore"]
    assert completed("heaptender status --l") == ["--leaving"]
