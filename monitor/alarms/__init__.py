"""Alarms as ISA-18.2 / IEC 62682 has them: a table of states, a catalogue of kinds, and the book that keeps them."""

from monitor.alarms.book import AlarmBook, AlarmRecord, Move, Telling
from monitor.alarms.catalog import BRIEF_MS, CATALOG, FAULTS, GOING_ON, SHUT, AlarmKind, alarm_key, is_brief
from monitor.alarms.states import TOLD_AS, TRANSITIONS, Signal

__all__ = [
    "BRIEF_MS",
    "CATALOG",
    "FAULTS",
    "GOING_ON",
    "SHUT",
    "TOLD_AS",
    "TRANSITIONS",
    "AlarmBook",
    "AlarmKind",
    "AlarmRecord",
    "Move",
    "Signal",
    "Telling",
    "alarm_key",
    "is_brief",
]
