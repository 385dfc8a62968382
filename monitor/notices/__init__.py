"""Notices: whom to tell, when, and in what words. Pure; the engine owns the alarms and calls the desk."""

from monitor.notices.by_hand import meaning
from monitor.notices.desk import NoticeDesk
from monitor.notices.facts import Facts, hand_words
from monitor.notices.letters import Words
from monitor.notices.names import clean
from monitor.notices.state import Cause, DeskState, Line, LineKind, Message, NoticeReason
from monitor.notices.summary import LeavingFacts, ProbeAge
from monitor.notices.texts import PLAIN_NAMES, compose

__all__ = [
    "PLAIN_NAMES",
    "Cause",
    "DeskState",
    "Facts",
    "LeavingFacts",
    "Line",
    "LineKind",
    "Message",
    "NoticeDesk",
    "NoticeReason",
    "ProbeAge",
    "Words",
    "clean",
    "compose",
    "hand_words",
    "meaning",
]
