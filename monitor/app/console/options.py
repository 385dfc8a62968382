"""Options and output that every command shares: finding the configuration, printing JSON."""

import json
import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any, TypeVar

import click

from monitor.configuration import Configuration, load
from monitor.proof.rules import rule_names

DEFAULT_FILE = "heaptender.toml"
VARIABLE = "HEAPTENDER_CONFIG"

_Command = TypeVar("_Command", bound=Callable[..., Any])


def config_option(command: _Command) -> _Command:
    """Add `--config` to a command."""
    return click.option(
        "--config",
        "config_file",
        type=click.Path(path_type=Path),
        help=f"The configuration; else the environment variable {VARIABLE}, else {DEFAULT_FILE} in this folder.",
    )(command)


def json_option(command: _Command) -> _Command:
    """Add `--json` to a command: only JSON goes to stdout."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON and nothing else.")(command)


def only_say_option(command: _Command) -> _Command:
    """Add `--only-say` to a command that writes into the log."""
    return click.option("--only-say", is_flag=True, help="Say what it would change; write nothing down.")(command)


def configuration_path(config_file: Path | None) -> Path:
    """Return the configuration file: the one given, else that of the environment, else the one in this folder."""
    if config_file is not None:
        return config_file
    return Path(os.environ.get(VARIABLE) or DEFAULT_FILE)


def load_configuration(config_file: Path | None, overrides: Iterable[str] = ()) -> Configuration:
    """Load the configuration that `config_file` or the environment names.

    Args:
        config_file: The file named on the command line; None: see `configuration_path`.
        overrides: `key=value` texts that replace values of the file.

    Raises:
        ConfigurationError: The file cannot be read or is wrong; the error lists every problem.
    """
    return load(configuration_path(config_file), os.environ, rules=rule_names(), overrides=overrides)


def print_json(value: Any) -> None:
    """Print one JSON value on a line of its own; `docs/schemas/` says which shape each command's has."""
    click.echo(json_line(value))


def json_line(value: Any) -> str:
    """Return a JSON value as one line."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))
