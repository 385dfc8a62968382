"""Hands each part of a rule to the function that judges its kind."""

from monitor.proof.judging.constant import judge_constant
from monitor.proof.judging.days import judge_days
from monitor.proof.judging.durations import judge_before_turnings, judge_run, judge_total
from monitor.proof.judging.judged_record import Judged, Record
from monitor.proof.judging.windows import judge_window
from monitor.proof.rules import Constant, Days, Part, Run, RunBeforeTurnings, Total, Window


def judge(part: Part, record: Record) -> Judged:
    """Return the result of one part of a rule; its numbers are those of the instant at which it was met."""
    judged = _judge(part, record)
    if judged.met_at is None or judged.met_at == record.end or isinstance(part, Window | Constant):
        return judged
    return _judge(part, record.until(judged.met_at))


def _judge(part: Part, record: Record) -> Judged:
    if isinstance(part, Run):
        return judge_run(part, record)
    if isinstance(part, Total):
        return judge_total(part, record)
    if isinstance(part, Days):
        return judge_days(part, record)
    if isinstance(part, RunBeforeTurnings):
        return judge_before_turnings(part, record)
    if isinstance(part, Window):
        return judge_window(part, record)
    return judge_constant(part, record)
