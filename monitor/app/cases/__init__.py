"""Gathers the case of a certificate: from the journal by batch, or from CSV files without any configuration.

`asked` says how to judge it, `which_rule` finds the rule, `case_columns` turns readings into arrays, `from_store` and
`from_files` gather, `lineage` says in words what the record supports.
"""

from monitor.app.cases.asked import Asked
from monitor.app.cases.which_rule import KnownRule, known_rule, rule_from_file
