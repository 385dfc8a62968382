"""Rules, and how a batch's record is held against them; pure, integers only.

`rules` and `rule_file` say what a rule is and read it; `holdset` works out when a batch was within its limits;
`evaluate` gives the verdict on a whole record; `tracker` follows a batch while it is watched. One seam for readings:
accepted ones only, in time order, with the times at which each probe was in service.

What needs numpy (`Series`, `hold_set`, `prove`) is loaded when it is first asked for: following a batch needs none.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from monitor.proof.conditions import Evidence, Examined, ExaminedStatus, examine
from monitor.proof.evaluate import evaluate
from monitor.proof.finding import Finding, Outcome, PartFinding
from monitor.proof.follower import RuleFollower, followed
from monitor.proof.intervals import Intervals
from monitor.proof.proven import HoldBasis, HoldSet, ProbeSets
from monitor.proof.rule_file import find_rule, load_rule, parse_rule, rule_ids, rule_names, rule_text
from monitor.proof.rules import (
    NO_RULE,
    Alternative,
    Condition,
    Constant,
    Days,
    Duties,
    Join,
    Limits,
    Mean,
    Part,
    Rule,
    Run,
    RunBeforeTurnings,
    Status,
    Total,
    Turnings,
    Window,
    Within,
    refuse_method,
)
from monitor.proof.tracker import HoldState, HoldTracker

if TYPE_CHECKING:
    from monitor.proof.course import Course
    from monitor.proof.from_readings import prove
    from monitor.proof.holdset import hold_set, hold_sets
    from monitor.proof.smoothing import smooth
    from monitor.proof.stretches import Series

__all__ = [
    "NO_RULE",
    "Alternative",
    "Condition",
    "Constant",
    "Course",
    "Days",
    "Duties",
    "Evidence",
    "Examined",
    "ExaminedStatus",
    "Finding",
    "HoldBasis",
    "HoldSet",
    "HoldState",
    "HoldTracker",
    "Intervals",
    "Join",
    "Limits",
    "Mean",
    "Outcome",
    "Part",
    "PartFinding",
    "ProbeSets",
    "Rule",
    "RuleFollower",
    "Run",
    "RunBeforeTurnings",
    "Series",
    "Status",
    "Total",
    "Turnings",
    "Window",
    "Within",
    "evaluate",
    "examine",
    "find_rule",
    "followed",
    "hold_set",
    "hold_sets",
    "load_rule",
    "parse_rule",
    "prove",
    "refuse_method",
    "rule_ids",
    "rule_names",
    "rule_text",
    "smooth",
]

_LATER = {
    "Course": "course",
    "Series": "stretches",
    "hold_set": "holdset",
    "hold_sets": "holdset",
    "prove": "from_readings",
    "smooth": "smoothing",
}


def __getattr__(name: str) -> Any:
    """Load what needs numpy."""
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_LATER[name]}"), name)
