"""The result of one part of a rule, by the times in which the batch was proven and within the limits."""

from monitor.proof.judging.judge import judge
from monitor.proof.judging.judged_record import Day, Judged, Record
