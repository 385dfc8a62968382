"""Judges readings in one call: works out the hold sets that a rule asks for, then the verdict."""

from collections.abc import Sequence
from dataclasses import replace

from monitor.proof.governing import Course
from monitor.proof.holdset import hold_sets
from monitor.proof.temperature import Series, falls_before, smooth
from monitor.proof.verdict.evaluate import evaluate
from monitor.proof.verdict.question import Question
from monitor.proof.verdict.rule_finding import Finding


def prove(question: Question, series: Sequence[Series]) -> Finding:
    """Return the verdict on a batch under a rule, straight from the accepted readings of its probes.

    Args:
        question: The rule, and by what it is judged.
        series: Accepted readings of each core probe, not smoothed.

    Raises:
        ValueError: As `hold_set`, `smooth` and `evaluate`, or no probe has a reading and an end is not given.
    """
    question = _with_ends(question, series)
    lines = tuple(smooth(one, question.smoothing_ms, question.max_gap_ms) for one in series)
    limits = [one.guarded(question.guard_milli_k) for one in question.rule.all_limits()]
    return evaluate(
        question,
        hold_sets(lines, limits, max_gap_ms=question.max_gap_ms, basis=question.basis),
        falls=falls_before(series, question.turnings),
        course=Course(
            lines, max_gap_ms=question.max_gap_ms, basis=question.basis, guard_milli_k=question.guard_milli_k
        ),
    )


def _with_ends(question: Question, series: Sequence[Series]) -> Question:
    """Return the question with both ends of the record; they are those of the readings before any smoothing."""
    if question.start is not None and question.end is not None:
        return question
    heard = [one.times for one in series if one.times.size]
    if not heard:
        raise ValueError("no probe has a reading, so the record has no ends")
    first, last = min(int(times[0]) for times in heard), max(int(times[-1]) for times in heard)
    return replace(
        question,
        start=first if question.start is None else question.start,
        end=last if question.end is None else question.end,
    )
