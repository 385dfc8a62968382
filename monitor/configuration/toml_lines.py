"""The line of each table and key of a TOML text, for sentences that name it."""

import tomllib
from typing import Any

from monitor.configuration.config_problems import KeyPath


def key_lines(text: str) -> dict[KeyPath, int]:
    """Return the line (from 1) of every table and key of a TOML text, as far as they can be found.

    Each statement of TOML is TOML by itself, so lines are gathered until they can be read: a value may take several.
    """
    lines: dict[KeyPath, int] = {}
    table: KeyPath = ()
    counts: dict[KeyPath, int] = {}
    statement, first = "", 1
    for number, line in enumerate(text.splitlines(), start=1):
        first = first if statement else number
        statement += line + "\n"
        try:
            found = tomllib.loads(statement)
        except tomllib.TOMLDecodeError:
            continue
        header, statement = statement.lstrip().startswith("["), ""
        if not found:
            continue
        names, many = _names(found)
        if header:
            table = _numbered(names, counts, many=many)
        path = table if header else (*table, *names)
        for length in range(1, len(path) + 1):
            lines.setdefault(path[:length], first)
    return lines


def _names(statement: dict[str, Any]) -> tuple[list[str], bool]:
    """Return the names that a statement leads through, and whether it ends in a list of tables."""
    names: list[str] = []
    inner: Any = statement
    while isinstance(inner, dict) and len(inner) == 1:
        ((name, inner),) = inner.items()
        names.append(name)
    return names, inner == [{}]


def _numbered(names: list[str], counts: dict[KeyPath, int], *, many: bool) -> KeyPath:
    """Return the path of a header, with the number of each list's last table; a list of tables gets one more."""
    path: KeyPath = ()
    for place, name in enumerate(names, start=1):
        path = (*path, name)
        if many and place == len(names):
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path
