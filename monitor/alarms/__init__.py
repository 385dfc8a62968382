"""Alarms as ISA-18.2 / IEC 62682 has them: a table of states, and the book that keeps them (`model.alarm_kinds` names them)."""

from monitor.alarms.book import AlarmBook, AlarmRecord, Move, Telling
from monitor.alarms.states import GOING_ON, TOLD_AS, TRANSITIONS, Signal
