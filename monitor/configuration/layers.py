"""Merges the layers: the file, over it the environment, over that the `--set` options of the command line.

Rules: the environment is handed in, never looked up; a variable is `HEAPTENDER_` and the key path with `__` between
its parts, in any case; `_` also stands for `-` and similar characters of an id; a list is written as JSON.
"""

import re
import tomllib
from collections.abc import Mapping
from typing import Any

from monitor.configuration.config_document import Document
from monitor.configuration.config_problems import KeyPath, Problems, UnfitError, suggestion

PREFIX = "HEAPTENDER_"
CONFIG_VARIABLE = "HEAPTENDER_CONFIG"
NOT_KEYS = frozenset({CONFIG_VARIABLE, "HEAPTENDER_DEBUG", "HEAPTENDER_TYPEFACE"})
"""Variables of the command line, which set no key."""
"""Names the configuration file itself, so it is no key of the file."""


def _folded(key: str) -> str:
    return re.sub(r"[^a-z0-9]", "_", key.lower())


def _match(key: str, known: Mapping[str, Any]) -> str:
    """Return the key of the file that a variable's part means (`p1_a` -> `p1-a`), else the part as it is."""
    if key in known:
        return key
    alike = [name for name in known if _folded(name) == _folded(key)]
    return alike[0] if len(alike) == 1 else key


def merge(
    below: Mapping[str, Any], above: Mapping[str, Any], path: KeyPath = ()
) -> tuple[dict[str, Any], list[KeyPath]]:
    """Merge two layers, the upper winning key by key.

    Args:
        below: Tables of the lower layer.
        above: Tables of the upper layer; a key may be spelled as in a variable (`p1_a` for `p1-a`).
        path: Key path of both tables, for the recursion.

    Returns:
        The merged tables, and the paths of the keys that the upper layer set.
    """
    merged = dict(below)
    written: list[KeyPath] = []
    for raw, value in above.items():
        key = _match(raw, below)
        under = below.get(key)
        if isinstance(value, Mapping):
            merged[key], inner = merge(under if isinstance(under, Mapping) else {}, value, (*path, key))
            written.extend(inner)
        else:
            merged[key] = value
            written.append((*path, key))
    return merged, written


def _variable(path: KeyPath, environ: Mapping[str, str]) -> str:
    wanted = "__".join(_folded(str(part)) for part in path)
    names = [name for name in sorted(environ) if name.upper().startswith(PREFIX)]
    for name in names:
        given = name[len(PREFIX) :].lower()
        if given == wanted or wanted.startswith(given + "__"):
            return name
    return PREFIX + wanted.upper()


def environment(environ: Mapping[str, str], problems: Problems) -> dict[str, Any]:
    """Return the values of the variables, nested as in the file; faults are noted."""
    given = {
        name.lower(): value
        for name, value in sorted(environ.items())
        if name.upper().startswith(PREFIX) and name.upper() not in NOT_KEYS
    }
    for name in given:
        section = name[len(PREFIX) :].split("__")[0]
        if section not in Document.model_fields:
            path = (name.upper(),)
            problems.variables[path] = "environment"
            right = suggestion(section, Document.model_fields, noun="section")
            problems.add(path, f'there is no section "{section}"', right)
    if not given:
        return {}
    from monitor.configuration.variables import read_variables  # noqa: PLC0415 (its library is slow to import)

    try:
        return read_variables(given)
    except ValueError:
        values: dict[str, Any] = {}
    for name, value in given.items():  # one by one, so that those that can be read count
        try:
            values, _ = merge(values, read_variables({name: value}))
        except ValueError:
            path = (name.upper(),)
            problems.variables[path] = "environment"
            problems.add(path, f'"{value}" is not JSON', """a list is written as JSON, such as ["mail", "page"]""")
    return values


def overlay(
    file: Mapping[str, Any], environ: Mapping[str, str], overrides: Mapping[str, Any], problems: Problems
) -> dict[str, Any]:
    """Merge file, environment and overrides, and note in `problems` where each value came from.

    Args:
        file: Tables of the file.
        environ: Environment variables; only those with the prefix `HEAPTENDER_` count.
        overrides: Tables of the `--set` options.
        problems: Receives faults of variables, and the origin of each value.

    Returns:
        The merged tables.
    """
    merged, written = merge(file, environment(environ, problems))
    for path in written:
        problems.variables[path] = f"environment variable {_variable(path, environ)}"
    merged, written = merge(merged, overrides)
    for path in written:
        problems.variables[path] = "--set"
    return merged


_SHORT = {"piles": ("pile", ("name", "rule", "method", "built", "thresholds")), "bins": ("bin", ("name", "thresholds"))}


def assignment(text: str) -> tuple[tuple[str, ...], Any]:
    """Return `KEY=VALUE` as a key path and a value; `bins.b1.overheating` is `bins.b1.thresholds.overheating`.

    The value is read as TOML if it is TOML (a number, true, a list, a quoted text); any other value is a text.

    Raises:
        UnfitError: There is no `=`, or no key before it.
    """
    left, equals, right = text.partition("=")
    path = _path(left.strip())
    if not equals or not path:
        raise UnfitError(f'"{text}" is no KEY=VALUE', 'write it such as "bins.b1.overheating=82 degF"')
    if path[0] in _SHORT and len(path) == 3 and path[2] not in _SHORT[path[0]][1]:
        path = (*path[:2], "thresholds", path[2])
    value = right.strip()
    try:
        return path, tomllib.loads(f"v = {value}")["v"]
    except tomllib.TOMLDecodeError:
        return path, value


def _path(text: str) -> tuple[str, ...]:
    parts = [quoted or bare for quoted, bare in re.findall(r'"([^"]+)"|([^."\s]+)', text)]
    rebuilt = re.sub(r'"[^"]+"|[^."\s]+', "x", text)
    return tuple(parts) if re.fullmatch(r"x(\.x)*", rebuilt) else ()


def nested(path: tuple[str, ...], value: Any) -> dict[str, Any]:
    """Return one value inside the nested tables that its path names."""
    for key in reversed(path):
        value = {key: value}
    return dict(value)
