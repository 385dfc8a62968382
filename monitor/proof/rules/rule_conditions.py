"""Reads a condition that a person declares, in a rule of heat or of duration."""

from monitor.proof.rules.declared_rule import Condition
from monitor.proof.rules.rule_table import Table


def condition_of(table: Table) -> Condition:
    """Return the condition that a table describes."""
    condition = Condition(key=table.name("key"), text=table.text("text"))
    table.end()
    return condition
