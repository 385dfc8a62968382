"""`password`: makes the hash of a password for the page, so that the password itself is stored nowhere."""

import getpass
import sys
import warnings

import click

from monitor.model.errors import MisuseError
from monitor.model.settings import PASSWORD_LENGTHS


@click.command()
def command() -> None:
    """Ask for a password for the page, and print its hash, which can stand in `page.password_file` instead.

    Without a terminal, the password is read from the first line of standard input.

    \b
    Example:
      heaptender password > page-password && chmod 600 page-password
    """
    from monitor.page import guess_trouble, guesses, hash_password  # noqa: PLC0415 (so that --help stays quick)

    shortest, longest = PASSWORD_LENGTHS
    try:
        first = _typed("Password of the page: ")
        if not shortest <= len(first) <= longest:
            raise MisuseError(f"A password has {shortest} to {longest} characters; nothing was made.")
        if trouble := guess_trouble(first):
            raise MisuseError(f"This password is no secret: {trouble}. Nothing was made.")
        again = _typed("Once more: ", first)
    except EOFError as fault:
        raise MisuseError("No password was typed; nothing was made.") from fault
    if first != again:
        raise MisuseError("The two differ; nothing was made.")
    click.echo(hash_password(first))
    power = len(str(guesses(first))) - 1
    click.echo(f"A guesser needs about 10^{power} tries for it; 10^8 would be too few.", err=True)


def _typed(prompt: str, before: str | None = None) -> str:
    """Return a text typed unseen; without a terminal, the next piped line, or `before` if there is none."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", getpass.GetPassWarning)
        try:
            return getpass.getpass(prompt)
        except getpass.GetPassWarning:
            line = sys.stdin.readline()
    if not line and before is None:
        raise EOFError
    return line.rstrip("\r\n") if line else str(before)
