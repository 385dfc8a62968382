"""Puts values into the text of a configuration file and leaves everything else as a person wrote it.

Rules:
1. Remarks, blank lines, order and all other values stay as they are; a missing table is added.
2. The new text is read again and must hold the old content with the new values and no other change. If that cannot be
   done (a rare way of writing tables), the text is refused, with the lines to write by hand.
"""

import difflib
import tomllib
from collections.abc import Mapping
from typing import Any

from monitor.configuration.config_problems import KeyPath
from monitor.model.errors import ConfigurationError

_WAYS = ("table", "inline")
"""Two ways to add a missing table: with a header of its own, else inside its parent."""


def edited(text: str, values: Mapping[KeyPath, str]) -> str:
    """Put values into the text of a configuration.

    Args:
        text: A TOML document.
        values: Texts by their key paths, such as `("bins", "b1", "thresholds", "overheating")`: `82.5 degF`.

    Returns:
        The new text.

    Raises:
        ConfigurationError: The text is not TOML, or the values cannot be put in without changing something else.
    """
    try:
        wanted = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise ConfigurationError([f"The configuration is not TOML ({fault}); mend it first."]) from fault
    for path, value in values.items():
        _set(wanted, path, value)
    windows = "\r\n" in text
    for way in _WAYS:
        after = _attempt(text.replace("\r\n", "\n") if windows else text, values, way)
        if after is not None and tomllib.loads(after) == wanted:
            return after.replace("\n", "\r\n") if windows else after
    lines = "; ".join(f'{".".join(map(str, path))} = "{value}"' for path, value in values.items())
    raise ConfigurationError(
        [f"The configuration is written in a way that cannot be changed here; set by hand: {lines}."]
    )


def difference(before: str, after: str, name: str) -> str:
    """Show the changes between two texts of a file.

    Args:
        before: The present text.
        after: The new text.
        name: Name of the file, for the heading.

    Returns:
        The changes in the common unified form; "" if there are none.
    """
    lines = difflib.unified_diff(
        before.splitlines(), after.splitlines(), f"{name} (now)", f"{name} (new)", "", "", 2, ""
    )
    return "".join(f"{line}\n" for line in lines)


def _set(document: dict[str, Any], path: KeyPath, value: str) -> None:
    table: Any = document
    for depth, key in enumerate(path[:-1], 1):
        table = table.setdefault(str(key), {})
        if not isinstance(table, dict):
            where = ".".join(map(str, path[:depth]))
            raise ConfigurationError([f"{where} is no table in the configuration; it must be one."])
    table[str(path[-1])] = value


def _attempt(text: str, values: Mapping[KeyPath, str], way: str) -> str | None:
    """Return the text with the values put in one way, or None if the library refuses."""
    import tomlkit  # noqa: PLC0415 (loaded only where a file is changed)
    from tomlkit.exceptions import TOMLKitError  # noqa: PLC0415

    try:
        document = tomlkit.parse(text)
        added: list[Any] = []
        for path, value in values.items():
            table: Any = document
            for depth, key in enumerate(path[:-1]):
                if key not in table:
                    # A table that holds only another table needs no header of its own.
                    whole = tomlkit.table(is_super_table=depth < len(path) - 2)
                    table[key] = tomlkit.inline_table() if way == "inline" else whole
                    added.append(table[key])
                table = table[key]
            table[path[-1]] = value
        for table in added:
            if isinstance(table, tomlkit.items.Table) and not table.is_super_table():
                table.add(tomlkit.nl())
        after = tomlkit.dumps(document)
        tomllib.loads(after)
    except (TOMLKitError, tomllib.TOMLDecodeError, ValueError, TypeError):
        return None
    return after
