"""The engine: the one state machine between what arrives and what people are told. Pure."""

from monitor.engine.asking.answerable import why_unanswerable
from monitor.engine.context.audience import NOBODY, PEOPLE, Audience
from monitor.engine.context.batch_runs import BatchRun, heat_status, hold_milli, progress_now, rule_of, tracker_now
from monitor.engine.context.history import History
from monitor.engine.context.read_spots import last_read, spots_at, why_not_held
from monitor.engine.engine import Engine
from monitor.engine.hand.known_beside import beside_words
from monitor.engine.handlers.logged_work import work_from

__all__ = [
    "NOBODY",
    "PEOPLE",
    "Audience",
    "BatchRun",
    "Engine",
    "History",
    "beside_words",
    "heat_status",
    "hold_milli",
    "last_read",
    "progress_now",
    "rule_of",
    "spots_at",
    "tracker_now",
    "why_not_held",
    "why_unanswerable",
    "work_from",
]
