"""`check`: checks the configuration, tries each connection, sends a test notice if asked."""

import os
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from monitor.app.console.options import config_option, configuration_path, json_option, print_json
from monitor.configuration import Configuration, load
from monitor.model.errors import ConfigurationError, MisuseError
from monitor.proof.rules import rule_names

if TYPE_CHECKING:
    from monitor.app.checks.check_finding import Finding


@click.command()
@click.option(
    "--send", "contact", metavar="CONTACT", help="Send a test notice to this contact by each of its channels."
)
@click.option("--offline", is_flag=True, help="Read the configuration only; try no connection.")
@click.option("--quick", is_flag=True, help="Do not read the whole record; the answer says so.")
@config_option
@json_option
def command(contact: str | None, offline: bool, quick: bool, config_file: Path | None, as_json: bool) -> int:
    """Read the configuration and try each connection; exit 1 if anything is wrong.

    It connects to the broker as a client of its own and takes no message from the daemon, writes one test point to the
    mirror, calls the heartbeat's address once, and leaves alone serial ports that the daemon holds.

    \b
    Examples:
      heaptender check
      heaptender check --send ann
    """
    path = configuration_path(config_file)
    if not path.exists():
        raise MisuseError(f"{path} does not exist; name the configuration with --config, or write it.")
    try:
        configuration = load(path, os.environ, rules=rule_names())
    except ConfigurationError as fault:
        if as_json:
            print_json({"ok": False, "configuration": fault.problems, "connections": []})
        else:
            for problem in fault.problems:
                click.echo(problem)
        return 1
    settings = configuration.settings
    if not as_json:
        held = (
            (settings.piles, "pile"),
            (settings.bins, "bin"),
            (settings.probes, "probe"),
            (settings.contacts, "contact"),
        )
        counts = ", ".join(f"{len(items)} {word if len(items) == 1 else f'{word}s'}" for items, word in held)
        click.echo(f"{path}: ok; {counts}.")
    findings = []
    for finding in _findings(configuration, contact, offline=offline, quick=quick):
        findings.append(finding)
        if not as_json:
            click.echo(_line(finding))
    fine = all(finding.ok for finding in findings)
    if as_json:
        print_json({"ok": fine, "configuration": [], "connections": [finding.plain() for finding in findings]})
    return 0 if fine else 1


def _findings(configuration: Configuration, contact: str | None, *, offline: bool, quick: bool) -> Iterator["Finding"]:
    # A bad configuration is reported before anything else is loaded.
    from monitor.app.checks.settings_checks import settings_checks  # noqa: PLC0415

    yield from settings_checks(configuration, time.time_ns() // 1_000_000)
    if offline and contact is None:
        return
    from monitor.app.checks.connection_checks import all_checks, check_contact, send_test  # noqa: PLC0415

    if contact is not None:
        check_contact(configuration, contact)
    if not offline:
        yield from all_checks(configuration, quick=quick)
    if contact is not None:
        yield from send_test(configuration, contact)


def _line(finding: "Finding") -> str:
    how = "NOT OK" if not finding.ok else "ok, but look" if finding.warning else "ok"
    return f"{finding.what}: {how}{'; ' + finding.words if finding.words else ''}"
