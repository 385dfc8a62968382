"""Reads a rule out of the text of its TOML file, and refuses a bad one with a sentence for every fault.

A part of the file that is at fault does not hide the faults of the others (`rule_table` says them). `rule_parts` reads
the alternatives.
"""

import re
from importlib.resources import files
from typing import Any

from monitor.model.errors import ConfigurationError, MisuseError
from monitor.model.words import Method
from monitor.proof.rules.declared_rule import NO_RULE, Condition, Duties, Rule, Status
from monitor.proof.rules.rule_conditions import condition_of
from monitor.proof.rules.rule_parts import read_alternatives
from monitor.proof.rules.rule_table import Table, one_of, table_of_text

_FOLDER = "monitor.proof.rules"
_IDENTIFIER = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*", re.ASCII)
OTHER_NAMES = {"us-nosb-2002": "us-nop-5021-compost"}
"""Ids by which a rule was known before, and its id now: the guidance of 2011 took the recommendation of 2002 over."""
_TEXTS = ("title", "jurisdiction", "section", "feedstock", "wording", "source")


def _methods(table: Table) -> tuple[Method, ...]:
    right = "write a list of " + one_of([word.value for word in Method])
    value = table.take("methods", right)
    try:
        methods = tuple(Method(one) for one in value)
    except (TypeError, ValueError):
        methods = ()
    if not methods or not isinstance(value, list):
        raise table.fault("methods", f"{value!r} names no method or one that is not known", right)
    return methods


def _duties(table: Table) -> Duties:
    duties = Duties(
        key=table.name("key"),
        text=table.text("text"),
        every_ms=table.duration("every") if table.has("every") else None,
        per_milli_m=table.size("per_length"),
        per_milli_m3=table.size("per_volume", volume=True),
        depth_min_milli_m=table.size("depth_min"),
        depth_max_milli_m=table.size("depth_max"),
    )
    low, high = duties.depth_min_milli_m, duties.depth_max_milli_m
    if low is not None and high is not None and high < low:
        raise table.fault("depth_max", "it is less than `depth_min`", "write a greater one")
    table.take("every", "", default="")
    table.end()
    if (duties.every_ms, duties.per_milli_m, duties.per_milli_m3, low, high) == (None,) * 5:
        raise table.fault(
            "key", "this duty states nothing to measure", "add `every`, `per_length`, `per_volume` or a depth"
        )
    return duties


def _conditions(table: Table) -> tuple[Condition | Duties, ...]:
    conditions: list[Condition | Duties] = []
    if table.has("conditions"):
        conditions += [condition_of(one) for one in table.tables("conditions")]
    if table.has("duties"):
        conditions += [_duties(one) for one in table.tables("duties")]
    keys = [one.key for one in conditions]
    for key in dict.fromkeys(keys):
        if keys.count(key) > 1:
            raise table.fault("conditions", f"the key {key!r} is used twice", "give every condition and duty its own")
    return tuple(conditions)


def parse_rule(text: str, file: str, rule_id: str) -> Rule:
    """Return the rule that a TOML text describes.

    Args:
        text: The whole file.
        file: Its name, for the sentences.
        rule_id: Id of the rule (for the rules we ship, the file's name without its ending).

    Returns:
        The rule.

    Raises:
        ConfigurationError: The file is bad; one sentence for each fault found.
    """
    faults: list[str] = []
    table = table_of_text(text, file, faults)
    if rule_id == NO_RULE or _IDENTIFIER.fullmatch(rule_id) is None:
        faults.append(f"{file}: {rule_id!r} cannot name a rule; use small letters, digits and hyphens (not `none`).")
    # Goes on after a fault, so that a person sees all of them at once.
    found: dict[str, Any] = {**table.texts(_TEXTS)}
    found["status"] = table.tried(lambda: table.word("status", Status))
    found["methods"] = table.tried(lambda: _methods(table))
    found["conditions"] = table.tried(lambda: _conditions(table))
    found["alternatives"] = table.tried(lambda: read_alternatives(table))
    found["caution"] = table.tried(lambda: table.text("caution")) if table.has("caution") else ""
    for key in ("conditions", "duties", "caution"):
        table.take(key, "", default="")
    table.end()
    if faults:
        raise ConfigurationError(faults)
    return Rule(id=rule_id, **found)


def rule_ids() -> tuple[str, ...]:
    """Return the ids of the rules that come with the program, in order; `none` is not among them."""
    names = (entry.name for entry in files(_FOLDER).iterdir())
    return tuple(sorted(name.removesuffix(".toml") for name in names if name.endswith(".toml")))


def rule_names() -> tuple[str, ...]:
    """Return every name that a pile may give for a rule that comes with the program: the ids, and the other names."""
    return (*rule_ids(), *OTHER_NAMES)


def rule_text(rule_id: str) -> str:
    """Return the text of the file of a rule that comes with the program, by its id or another name of it.

    Raises:
        MisuseError: There is no such rule.
    """
    known, rule_id = rule_ids(), OTHER_NAMES.get(rule_id, rule_id)
    if rule_id not in known:
        raise MisuseError(f"There is no rule {rule_id!r}; there are {', '.join(known)} (and `none` for no rule).")
    return files(_FOLDER).joinpath(f"{rule_id}.toml").read_text("utf-8")


def load_rule(rule_id: str) -> Rule:
    """Return a rule that comes with the program, by its id or another name of it; the rule bears its id.

    Raises:
        MisuseError: There is no such rule.
        ConfigurationError: Its file is bad.
    """
    text, rule_id = rule_text(rule_id), OTHER_NAMES.get(rule_id, rule_id)
    return parse_rule(text, f"{rule_id}.toml", rule_id)


def find_rule(rule_id: str) -> Rule | None:
    """Return the rule a pile names, or None for `none`; raises as `load_rule` does."""
    return None if rule_id == NO_RULE else load_rule(rule_id)
