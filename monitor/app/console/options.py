"""What every command shares: finding the configuration, and saying things as text or as JSON."""

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
    """Add `--json` to a command: nothing but JSON goes to stdout."""
    return click.option("--json", "as_json", is_flag=True, help="Print JSON and nothing else.")(command)


def configuration_path(config_file: Path | None) -> Path:
    """Return the configuration file that is meant."""
    if config_file is not None:
        return config_file
    return Path(os.environ.get(VARIABLE) or DEFAULT_FILE)


def load_configuration(config_file: Path | None, overrides: Iterable[str] = ()) -> Configuration:
    """Load the configuration that is meant.

    Raises:
        ConfigurationError: It cannot be read or is wrong; the error says everything that is.
    """
    return load(configuration_path(config_file), os.environ, rules=rule_names(), overrides=overrides)


def print_json(value: Any) -> None:
    """Print one JSON value on a line of its own."""
    click.echo(json.dumps(value, ensure_ascii=False, separators=(",", ":")))
