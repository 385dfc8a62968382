"""Loads a configuration: reads the file, merges the layers, checks everything, and reports all faults at once.

Order of precedence, highest first: `--set` (`overrides`), environment variables, the file, the built-in defaults.
Nothing is connected and nothing written; the only other files read are those that hold secrets and the site's own rules.
"""

import re
import tomllib
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from monitor.configuration import connection_keys, cross_checks, site_rules
from monitor.configuration.assemble import ConnectionBuilder
from monitor.configuration.bed_sizes import bed_sizes
from monitor.configuration.config_document import Document
from monitor.configuration.config_problems import Problems, UnfitError
from monitor.configuration.configured import Configuration, Thermometer
from monitor.configuration.layers import assignment, merge, nested, overlay
from monitor.configuration.settings_maker import SettingsBuilder
from monitor.configuration.shape import shaped
from monitor.configuration.toml_lines import key_lines
from monitor.model.errors import ConfigurationError
from monitor.proof.rules import duration_rule_ids


def load(
    path: Path,
    environ: Mapping[str, str],
    *,
    rules: Collection[str] | None = None,
    overrides: Iterable[str] = (),
) -> Configuration:
    """Load the configuration of a file, with the environment and `KEY=VALUE` overrides merged over it.

    Args:
        path: A TOML file.
        environ: Environment variables; those with the prefix `HEAPTENDER_` count, except
            `HEAPTENDER_CONFIG` and `HEAPTENDER_DEBUG`.
        rules: Ids of the rules there are; None leaves the rules of piles unchecked.
        overrides: `KEY=VALUE` texts, the later ones winning.

    Returns:
        The checked configuration, paths absolute.

    Raises:
        ConfigurationError: The file cannot be read, or holds any fault; `problems` holds every sentence.
    """
    return load_text(_read(path), path, environ, rules=rules, overrides=overrides)


def _read(path: Path) -> str:
    try:
        data = path.read_bytes()
    except IsADirectoryError as fault:
        raise ConfigurationError([f"{path} is a folder; name the configuration file in it."]) from fault
    except FileNotFoundError as fault:
        right = "name one with --config, or start from config/heaptender.minimal.toml"
        raise ConfigurationError([f"{path} does not exist; {right}."]) from fault
    except OSError as fault:
        raise ConfigurationError([f"{path} cannot be read ({fault.strerror}); let this user read it."]) from fault
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        line = data[: fault.start].count(b"\n") + 1
        sentence = f"{path.name}, line {line}: this is not UTF-8 text; save the file with the encoding UTF-8."
        raise ConfigurationError([sentence]) from fault


def _parse(text: str, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except RecursionError as fault:
        raise ConfigurationError([f"{name}: lists or tables are nested too deeply; write them flat."]) from fault
    except tomllib.TOMLDecodeError as fault:
        message = str(fault)
        found = re.search(r"\(at line (\d+), column \d+\)", message)
        number = int(found[1]) if found else max(1, len(text.splitlines()))
        lines = text.splitlines()
        shown = lines[number - 1].strip() if number <= len(lines) else ""
        wrong = message.split(" (at ", maxsplit=1)[0]
        wrong = wrong[0].lower() + wrong[1:]
        sentence = f"{name}, line {number}: {shown!r} is not TOML ({wrong}); {_remedy(message, shown)}."
        raise ConfigurationError([sentence]) from fault


def _remedy(message: str, shown: str) -> str:
    if "Cannot overwrite" in message or "Cannot declare" in message or "twice" in message:
        return "write each key and each table only once"
    if "Invalid value" in message or "after a statement" in message:
        return "write texts in quotes"
    if "Unclosed" in message or "Expected ']'" in message or "Illegal character" in message or shown.startswith("["):
        return "close every quote and bracket on its line"
    return 'a line is `key = value`, a [table] or a "# remark"'


def load_text(
    text: str,
    path: Path | None,
    environ: Mapping[str, str],
    *,
    rules: Collection[str] | None = None,
    overrides: Iterable[str] = (),
) -> Configuration:
    """Load the configuration of a TOML text; see `load`.

    Args:
        text: The TOML text.
        path: The file in which it stands or could stand; None: the built-in defaults, in the current folder.
        environ: Environment variables; those with the prefix `HEAPTENDER_` count.
        rules: Ids of the rules there are; None leaves the rules of piles unchecked.
        overrides: `KEY=VALUE` texts, the later ones winning.

    Returns:
        The checked configuration, paths absolute.

    Raises:
        ConfigurationError: The text holds any fault; `problems` holds every sentence.
    """
    name = path.name if path is not None else "built-in defaults"
    tables = _parse(text, name)
    problems = Problems(name, key_lines(text))
    over: dict[str, Any] = {}
    for override in overrides:
        try:
            over, _ = merge(over, nested(*assignment(override)))
        except UnfitError as fault:
            problems.variables[(override,)] = "--set"
            problems.fault((override,), fault)
    merged = overlay(tables, environ, over, problems)
    return _build(merged, path, rules, problems)


def _build(
    merged: dict[str, Any], path: Path | None, rules: Collection[str] | None, problems: Problems
) -> Configuration:
    names = cross_checks.Names(merged)
    document = shaped(merged, problems)
    folder = path.resolve().parent if path is not None else Path.cwd()
    own = site_rules.site_rules(document, folder, rules, problems)
    known = None if rules is None else [*rules, *own]
    confirmable = None if known is None else [*known, *duration_rule_ids()]
    cross_checks.check_ids(names, problems)
    cross_checks.check_spots(document, problems)
    cross_checks.check_site(document, known, problems)
    cross_checks.check_probes(document, names, problems)
    cross_checks.check_contacts(document, names, problems)
    connection_keys.check_channels(document, problems)
    connection_keys.check_mqtt(document, problems)
    connection_keys.check_serial(document, problems)
    connection_keys.check_addresses(document, problems)
    assembler = ConnectionBuilder(document, folder, problems)
    configuration = Configuration(
        settings=replace(
            SettingsBuilder(document, names, problems).settings(), rules=site_rules.used_texts(document, own)
        ),
        source=path.resolve() if path is not None else None,
        data=assembler.data(),
        mqtt=assembler.mqtt(),
        serial=assembler.serial(),
        page=assembler.page(),
        channels=assembler.channels(),
        mirror=assembler.mirror(),
        heartbeat=assembler.heartbeat(),
        retention_keep_ms=assembler.retention_keep_ms(),
        photos_most=assembler.photos_most(),
        backup=assembler.backup(),
        containers=cross_checks.containers(document, problems),
        beds=bed_sizes(document, problems),
        thermometers=_thermometers(document),
        lot_tests=tuple(dict.fromkeys(test.strip() for test in document.lots.tests if test.strip())),
        methane=cross_checks.methane(document, problems),
        evening=assembler.evening(),
        forecast_file=assembler.forecast_file(),
        fire_number=cross_checks.fire_number(document, problems),
        fire_address=" ".join(document.site.fire_address.split()),
        site_rules=own,
        confirmed=site_rules.confirmations(document, confirmable, problems),
        document=merged,
        secret_files=tuple(dict.fromkeys(assembler.secret_files)),
        rules=tuple(rules) if rules is not None else None,
    )
    if problems.found:
        raise ConfigurationError(problems.sentences())
    return configuration


def _thermometers(document: Document) -> dict[str, Thermometer]:
    return {name: Thermometer(name=part.name, checked=part.checked) for name, part in document.thermometers.items()}


def rebuilt(configuration: Configuration, path: tuple[str, ...], value: Any, text: str) -> Configuration:
    """Set one key of a configuration anew and check everything again.

    Args:
        configuration: Stays as it is.
        path: Key path in the document.
        value: Value as TOML would give it.
        text: `KEY=VALUE` as a person wrote it, for faults.

    Returns:
        The new configuration.

    Raises:
        ConfigurationError: The key or the value is wrong.
    """
    problems = Problems(configuration.source.name if configuration.source is not None else "built-in defaults")
    merged, written = merge(configuration.document, nested(path, value))
    for key in written:
        problems.variables[key] = f"--set {text}"
    return _build(merged, configuration.source, configuration.rules, problems)
