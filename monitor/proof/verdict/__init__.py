"""The verdict on a batch's whole record under a rule: met, not met or not proven, with the reasons in words."""

from monitor.proof.verdict.evaluate import evaluate
from monitor.proof.verdict.other_conditions import Evidence, ExaminedStatus, examine
from monitor.proof.verdict.prove_readings import prove
from monitor.proof.verdict.question import Question
from monitor.proof.verdict.rule_finding import Finding, Outcome
