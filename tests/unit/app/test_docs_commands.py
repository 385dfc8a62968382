"""The commands that the pages show are there, and take the options that are shown."""

import re
import shlex
from pathlib import Path

import click
import pytest

from monitor.app.command import SUMMARIES, heaptender
from monitor.model.work_kinds import declared, typed_words

ROOT = Path(__file__).parents[3]
PAGES = [
    "README.md", "docs/first-yard.md", "docs/CHANGELOG.md", "docs/configuration.md", "docs/mirror.md",
    "docs/architecture.md", "demo-data/README.md", "firmware-notes/README.md", "docs/certificate.md", "docs/tuning.md",
    "docs/by-hand.md", "docs/mixing.md", "docs/feeding.md", "docs/beds.md", "docs/harvest.md", "docs/diary.md",
    "docs/running.md", "docs/broker.md", "docs/messages.md", "docs/yard-work.md", "docs/from-load-to-bag.md",
    "docs/json.md", "docs/scale.md", "docs/reports.md",
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


def test_the_help_of_log_names_every_word_of_work():
    command = heaptender.get_command(click.Context(heaptender), "log")
    assert command is not None
    named = re.search(r"Examples of work \((.+?)\):", command.help or "", re.DOTALL)
    assert named is not None
    assert set(re.findall(r"[a-z]+(?:-[a-z]+)?", named[1])) - {"is", "now"} == {
        word for word, kind in typed_words().items() if not declared(kind).command
    }


def test_the_page_names_the_commands_that_speak_to_programs():
    said = re.search(r"`--json` prints.*?: (.+?) take it", read("docs/running.md"), re.DOTALL)
    assert said is not None
    context = click.Context(heaptender)
    commands = {name: heaptender.get_command(context, name) for name in SUMMARIES}
    able = {name for name, made in commands.items() if any("--json" in option.opts for option in made.params)}
    assert set(re.findall(r"`([a-z]+)`", said[1])) == able


def test_the_service_that_the_page_shows_starts_what_there_is_and_ends_where_starting_anew_is_no_help():
    unit = re.search(r"```ini\n(.+?)```", read("docs/running.md"), re.DOTALL)
    assert unit is not None
    service = dict(line.split("=", 1) for line in unit[1].splitlines() if "=" in line)
    assert service["ExecStart"].split("/")[-1] == "heaptender run"
    assert service["Restart"] == "always"
    # The README: 2 if the call was wrong, or a file is missing or unusable.
    assert f"with {service['RestartPreventExitStatus']} when the call was wrong" in read("README.md")
