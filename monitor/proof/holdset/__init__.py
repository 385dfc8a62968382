"""The exact times in which a batch was proven and within a rule's limits."""

from monitor.proof.holdset.hold_sets import hold_set, hold_sets, proven_together
from monitor.proof.holdset.hold_values import HoldBasis, HoldSet, ProbeSets
from monitor.proof.holdset.limit_crossings import zone
