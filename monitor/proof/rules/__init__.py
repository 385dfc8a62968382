"""Rules as they are declared: plain values, and the TOML files of those that come with the program.

`kinds` holds what a rule is made of, `declared_rule` puts that together; `rule_file` reads a rule out of its file.
"""

from monitor.proof.rules.declared_rule import (
    NO_RULE,
    STATUS_WORDS,
    Alternative,
    Condition,
    Duties,
    Join,
    Rule,
    Status,
    joined,
    refuse_method,
    scattered,
    unbroken,
)
from monitor.proof.rules.duration_rule import (
    BedDuration,
    DurationRule,
    duration_rule_ids,
    load_duration_rule,
    parse_duration_rule,
)
from monitor.proof.rules.kinds import (
    Constant,
    Days,
    Followed,
    Limits,
    Mean,
    Part,
    Run,
    RunBeforeTurnings,
    Total,
    Turnings,
    Window,
    Within,
    needed_turnings,
    turnings_apart,
    turnings_of,
)
from monitor.proof.rules.rule_file import find_rule, load_rule, parse_rule, rule_ids, rule_names, rule_text
