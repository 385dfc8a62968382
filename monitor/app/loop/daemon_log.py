"""The daemon's log: site time with its zone, and a line for each decision, notice and entry.

Levels: CRITICAL: nobody can rely on the watch. ERROR: a part does not work, and a person must act. WARNING: an alarm, or a
failure that is retried by itself. INFO: ordinary events. DEBUG: details for finding a fault.
"""

import logging
from datetime import datetime
from zoneinfo import ZoneInfo

from monitor.alarms import TOLD_AS
from monitor.app.console.harmless import harmless
from monitor.journal import Outcome, Request
from monitor.model.alarm_kinds import CATALOG, alarm_key
from monitor.model.effects import EffectKind
from monitor.model.events import EventKind
from monitor.model.words import AlarmState, Priority

log = logging.getLogger("heaptender")


class SiteTime(logging.Formatter):
    """Formats log lines in the yard's time; no content can command a terminal or fake another line."""

    def __init__(self, zone: str) -> None:
        super().__init__("%(asctime)s %(levelname)s %(message)s")
        self._zone = ZoneInfo(zone)

    def formatTime(self, record: logging.LogRecord, datefmt: str | None = None) -> str:  # noqa: ARG002, N802 (the library's names)
        """Return the time of a line: `2026-07-18 14:05:09 EDT`."""
        return datetime.fromtimestamp(record.created, self._zone).strftime("%Y-%m-%d %H:%M:%S %Z")

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 (the library's name)
        """Return one line."""
        record.message = harmless(record.message)
        return super().formatMessage(record)


def log_outcome(outcome: Outcome) -> None:
    """Log a turn's decisions: alarms, phases, rules. The outbox logs the notices."""
    for effect in outcome.effects:
        draft = effect.draft
        if draft.kind is EffectKind.ALARM and draft.after is not None:
            told = TOLD_AS[AlarmState(draft.after)].removesuffix(" until")
            urgent = draft.axis in CATALOG and CATALOG[draft.axis].priority >= Priority.HIGH
            new = draft.after == AlarmState.UNACKNOWLEDGED
            level = logging.WARNING if new and urgent else logging.INFO
            what = alarm_key(draft.place, draft.axis, draft.probe) if draft.axis in CATALOG else str(draft.axis)
            log.log(level, "Alarm %s: %s. %s", what, told, draft.why)
        elif draft.kind in (EffectKind.PHASE, EffectKind.RULE):
            before = f"from {draft.before} to " if draft.before else ""
            log.info("%s: %s %s%s. %s", draft.place, draft.axis, before, draft.after, draft.why)


def log_request(request: Request, refusal: str, question: str = "") -> None:
    """Log a request of a command or the page, with its refusal or the question about it, if any.

    Args:
        request: The request.
        refusal: Why it was refused, or "".
        question: The question about it, or "".
    """
    payload = request.payload
    what = " ".join(str(payload[key]) for key in ("kind", "answer", "place", "alarm", "probe") if payload.get(key))
    who = f" by {payload['by']}" if payload.get("by") else ""
    said = f"{request.kind}{': ' if what else ''}{what}{who}"
    if refusal:
        log.info("Refused: %s (%s)", said, refusal)
    elif question:
        log.info("Asked about: %s (%s)", said, question)
    elif request.kind is not EventKind.READINGS or payload.get("by"):
        log.info("Written down: %s", said)
