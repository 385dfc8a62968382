"""`check`: reads the configuration, tries each connection, sends a test notice if asked."""

import os
from pathlib import Path

import click

from monitor.app.connection_checks import Finding, all_checks, send_test
from monitor.app.options import config_option, configuration_path, json_option, print_json
from monitor.configuration import load
from monitor.model.errors import ConfigurationError
from monitor.proof import rule_ids


@click.command()
@click.option(
    "--send", "contact", metavar="CONTACT", help="Send a test notice to this contact by each of its channels."
)
@click.option("--offline", is_flag=True, help="Read the configuration only; try no connection.")
@config_option
@json_option
def command(contact: str | None, offline: bool, config_file: Path | None, as_json: bool) -> int:
    """Read the configuration and try each connection; exit 1 if anything is wrong.

    \b
    Examples:
      heaptender check
      heaptender check --send ann
    """
    path = configuration_path(config_file)
    try:
        configuration = load(path, os.environ, rules=rule_ids())
    except ConfigurationError as fault:
        if as_json:
            print_json({"ok": False, "configuration": fault.problems, "connections": []})
        else:
            for problem in fault.problems:
                click.echo(problem)
        return 1
    findings = [] if offline else list(all_checks(configuration))
    if contact is not None:
        findings += send_test(configuration, contact)
    fine = all(finding.ok for finding in findings)
    if as_json:
        print_json({"ok": fine, "configuration": [], "connections": [finding.plain() for finding in findings]})
        return 0 if fine else 1
    settings = configuration.settings
    click.echo(
        f"{path}: ok; {len(settings.piles)} piles, {len(settings.bins)} bins, {len(settings.probes)} probes, "
        f"{len(settings.contacts)} contacts."
    )
    for finding in findings:
        click.echo(_line(finding))
    return 0 if fine else 1


def _line(finding: Finding) -> str:
    return f"{finding.what}: {'ok' if finding.ok else 'NOT OK'}{'; ' + finding.words if finding.words else ''}"
