"""The commands that the pages show are there, and take the options that are shown."""

import re
import shlex
from pathlib import Path

import click
import pytest

from monitor.app.command import SUMMARIES, heaptender

ROOT = Path(__file__).parents[3]
PAGES = [
    "README.md", "docs/first-yard.md", "docs/CHANGELOG.md", "docs/configuration.md", "docs/mirror.md",
    "docs/architecture.md", "demo-data/README.md", "firmware-notes/README.md", "docs/certificate.md", "docs/tuning.md",
    "docs/by-hand.md",
]  # fmt: skip


def read(name):
    return (ROOT / name).read_text(encoding="utf-8")


def shown():
    for name in PAGES:
        for line in re.findall(r"^ {4}(?:\.venv/bin/)?heaptender (\S.*)$", read(name), re.MULTILINE):
            yield name, line
        for line in re.findall(r"`heaptender ([a-z][^`\n]*)`", read(name)):
            yield name, line


@pytest.mark.parametrize(("name", "line"), sorted(set(shown())))
def test_a_command_that_is_shown_can_be_called_like_that(name, line):
    words = shlex.split(line)
    assert words[0] in SUMMARIES, f"{name}: {line}"
    if len(words) == 1:
        return
    command = heaptender.get_command(click.Context(heaptender), words[0])
    assert command is not None
    command.make_context(words[0], words[1:])


@pytest.mark.parametrize("name", sorted(SUMMARIES))
def test_every_command_is_in_the_readme(name):
    assert re.search(rf"`(?:heaptender )?{name}\b[^`]*`|heaptender {name}\b", read("README.md"))


@pytest.mark.parametrize("name", sorted(SUMMARIES))
def test_every_commands_help_has_an_example(name):
    command = heaptender.get_command(click.Context(heaptender), name)
    assert command is not None
    assert "Example" in (command.help or "")
    assert f"heaptender {name}" in (command.help or "")
