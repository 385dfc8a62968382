"""Puts chosen values into the configuration file: shows the difference, asks, and keeps every remark.

Rules: nothing is written before somebody said yes (a terminal, or `--yes`); what is written was read again first and is
right as a whole; the file is replaced in one piece.
"""

import os
import stat
import sys
from collections.abc import Mapping
from pathlib import Path

import click

from monitor.app.console.whole_files import fresh_file
from monitor.configuration import difference, edited, load_text
from monitor.configuration.config_problems import KeyPath
from monitor.model.errors import MisuseError, UnavailableError
from monitor.proof.rules import rule_names


def refuse_unasked(yes: bool) -> None:
    """Refuse to begin where nobody could be asked.

    Raises:
        MisuseError: There is no terminal, and no `--yes`.
    """
    if not yes and not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise MisuseError(
            "--write asks before it changes the configuration, and this is no terminal; with --yes it does not ask."
        )


def write_values(path: Path, values: Mapping[KeyPath, str], *, yes: bool) -> bool:
    """Put values into a configuration file and return whether that was done.

    Args:
        path: The file.
        values: Texts by their key paths.
        yes: Whether nobody is asked.

    Raises:
        ConfigurationError: The file cannot be changed, or would not be right.
        UnavailableError: The disk does not take it.
    """
    with path.open(encoding="utf-8", newline="") as file:
        before = file.read()
    mark = "\ufeff" if before.startswith("\ufeff") else ""
    after = mark + edited(before.removeprefix(mark), values)
    now, then = (load_text(text.removeprefix(mark), path, os.environ, rules=rule_names()) for text in (before, after))
    if now.settings == then.settings:
        # A default that is written down would stay when the defaults change.
        click.echo(f"By {path} that is in force already; there is nothing to write.", err=True)
        return True
    click.echo(difference(before, after, path.name), err=True, nl=False)
    if not yes and not click.confirm(f"Write this into {path}?", err=True):
        click.echo("Nothing was written.", err=True)
        return False
    _replace(path, after)
    click.echo(
        "Written. A daemon that runs takes it up when it is told to read its configuration again: kill -HUP, or start it anew.",
        err=True,
    )
    return True


def _replace(path: Path, text: str) -> None:
    target = path.resolve()
    part = target.with_name(f"{target.name}.part")
    try:
        # Passwords may stand in it: private until it has the mode of the file that it replaces.
        with os.fdopen(fresh_file(part, 0o600), "w", encoding="utf-8", newline="") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        part.chmod(stat.S_IMODE(target.stat().st_mode))
        part.replace(target)
    except OSError as fault:
        part.unlink(missing_ok=True)
        raise UnavailableError(
            f"{path} cannot be written ({fault.strerror}); see that this user may write there."
        ) from fault
