"""`password`: makes the hash of a password for the page, so that the password itself need stand nowhere."""

import getpass

import click

from monitor.model.errors import MisuseError
from monitor.model.settings import PASSWORD_LENGTHS


@click.command()
def command() -> None:
    """Ask for a password of the page, and print what may stand in `page.password_file` instead of it.

    \b
    Example:
      heaptender password > page-password && chmod 600 page-password
    """
    from monitor.page import hash_password  # noqa: PLC0415 (so that --help stays quick)

    shortest, longest = PASSWORD_LENGTHS
    try:
        first = getpass.getpass("Password of the page: ")
        if not shortest <= len(first) <= longest:
            raise MisuseError(f"A password has {shortest} to {longest} characters; nothing was made.")
        again = getpass.getpass("Once more: ")
    except EOFError as fault:
        raise MisuseError("No password was typed; nothing was made.") from fault
    if first != again:
        raise MisuseError("The two differ; nothing was made.")
    click.echo(hash_password(first))
