"""The engine: the one state machine between what arrives and what people are told. Pure."""

from monitor.engine.answerable import why_unanswerable
from monitor.engine.audience import NOBODY, PEOPLE, Audience
from monitor.engine.engine import Engine
from monitor.engine.hand_beside import beside_words
from monitor.engine.history import History
from monitor.engine.logged import work_from
from monitor.engine.runs import BatchRun, heat_status, hold_milli, progress_now, rule_of, tracker_now
from monitor.engine.spots import last_read, spots_at, why_not_held
from monitor.engine.state import EngineState

__all__ = [
    "NOBODY",
    "PEOPLE",
    "Audience",
    "BatchRun",
    "Engine",
    "EngineState",
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
