"""Writes chosen values into the configuration file: shows the difference, asks, and keeps every comment.

Rules: nothing is written before a person said yes (on a terminal, or by `--yes`). The new text is parsed first and must be
right as a whole. The file is replaced in one piece.
"""

import os
import stat
import sys
from collections.abc import Mapping
from pathlib import Path

import click

from monitor.app.console.whole_files import replace_text
from monitor.configuration import KeyPath, difference, edited, load_text
from monitor.model.errors import MisuseError
from monitor.proof.rules import rule_names


def refuse_unasked(yes: bool) -> None:
    """Refuse to begin if nobody can be asked.

    Raises:
        MisuseError: There is no terminal, and no `--yes`.
    """
    if not yes and not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise MisuseError(
            "--write asks before it changes the configuration, and this is no terminal; with --yes it does not ask."
        )


def write_values(path: Path, values: Mapping[KeyPath, str], *, yes: bool) -> bool:
    """Write values into a configuration file and return whether they are in force there now.

    Args:
        path: The file.
        values: Texts by their key paths.
        yes: Whether to write without asking.

    Raises:
        ConfigurationError: The file cannot be edited, or the result would be wrong.
        UnavailableError: The file cannot be written.
    """
    with path.open(encoding="utf-8", newline="") as file:
        before = file.read()
    mark = "\ufeff" if before.startswith("\ufeff") else ""
    after = mark + edited(before.removeprefix(mark), values)
    now, then = (load_text(text.removeprefix(mark), path, os.environ, rules=rule_names()) for text in (before, after))
    if now.settings == then.settings:
        # Do not write values that equal the defaults: they would stay when the defaults change.
        click.echo(f"By {path} that is in force already; there is nothing to write.", err=True)
        return True
    click.echo(difference(before, after, path.name), err=True, nl=False)
    if not yes and not click.confirm(f"Write this into {path}?", err=True):
        click.echo("Nothing was written.", err=True)
        return False
    # The file may hold passwords, so it keeps its mode.
    replace_text(path.resolve(), after, stat.S_IMODE(path.stat().st_mode))
    click.echo(
        "Written. A daemon that runs takes it up when it is told to read its configuration again: kill -HUP, or start it anew.",
        err=True,
    )
    return True
