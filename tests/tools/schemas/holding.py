"""Holds JSON against the schemas in `docs/schemas/`, as a reader of the documentation would."""

import json
from functools import cache
from typing import Any

import click
from jsonschema import Draft202012Validator
from jsonschema.exceptions import best_match

from tests.tools.schemas.every_schema import path_of


@cache
def validator_of(command: str) -> Draft202012Validator:
    """Return what holds values against a command's schema."""
    return Draft202012Validator(json.loads(path_of(command).read_text(encoding="utf-8")))


def fault_of(command: str, value: Any) -> str:
    """Return how a value differs from a command's schema, or "" if it does not.

    Args:
        command: The command's words, such as `lots trace`.
        value: The value, as JSON is read.
    """
    fault = best_match(validator_of(command).iter_errors(value))
    return "" if fault is None else f"{fault.json_path}: {fault.message}"


def words_of(context: click.Context) -> str:
    """Return the words of the command that runs: `lots trace`."""
    callback = context.command.callback
    module = "" if callback is None else callback.__module__
    word = module.rpartition(".")[2].removesuffix("_command")
    within = context.parent is not None and getattr(context.parent.command.callback, "__module__", "") == module
    return f"{word} {context.command.name}" if within else word


def hold(value: Any) -> None:
    """Hold what the running command prints against its schema.

    Raises:
        AssertionError: It is not what the documentation says.
    """
    words = words_of(click.get_current_context())
    fault = fault_of(words, json.loads(json.dumps(value)))
    if fault:
        raise AssertionError(f"{path_of(words).name} does not describe what `{words} --json` prints: {fault[:2000]}")
