"""The daemon's log: site time with its zone, one line a line, levels that mean something."""

import logging

from monitor.app.loop.daemon_log import SiteTime, log_outcome, log_request
from monitor.journal import Outcome, Request
from monitor.model.effects import Draft, Effect, EffectKind
from monitor.model.events import EventKind


def effect(kind, axis, before, after, why="It is hot."):
    draft = Draft(
        place="b1", kind=kind, axis=axis, before=before, after=after, why=why, since=0, reason="on", values={}, text=""
    )
    return Effect(at=1, ordinal=0, draft=draft)


def test_a_line_has_the_yards_own_time_and_its_zone_and_stays_one_line():
    record = logging.LogRecord("heaptender", logging.WARNING, "", 0, "mqtt is down: %s", ("a\nb\x1b[2J",), None)
    record.created = 1_784_397_909.0
    line = SiteTime("America/New_York").format(record)
    assert line == "2026-07-18 14:05:09 EDT WARNING mqtt is down: a\\nb\\x1b[2J"


def test_what_was_decided_stands_in_the_log_by_its_weight(caplog):
    caplog.set_level(logging.INFO)
    log_outcome(
        Outcome(
            effects=[
                effect(EffectKind.ALARM, "worms-in-danger", "normal", "unacknowledged"),
                effect(EffectKind.ALARM, "worms-in-danger", "unacknowledged", "normal", "It is over."),
                effect(EffectKind.ALARM, "too-dry", "normal", "unacknowledged", "It is dry."),
                effect(EffectKind.CONDITION, "thermal", "comfort", "warm"),
                effect(EffectKind.PHASE, "phase", None, "heating", "It was built."),
                effect(EffectKind.PHASE, "phase", "heating", "holding"),
            ]
        )
    )
    assert [(one.levelname, one.getMessage()) for one in caplog.records] == [
        ("WARNING", "Alarm b1/worms-in-danger: new. It is hot."),
        ("INFO", "Alarm b1/worms-in-danger: over. It is over."),
        ("INFO", "Alarm b1/too-dry: new. It is dry."),
        ("INFO", "b1: phase heating. It was built."),
        ("INFO", "b1: phase from heating to holding. It is hot."),
    ]


def test_what_people_asked_for_stands_in_the_log(caplog):
    caplog.set_level(logging.INFO)
    work = Request(id=1, kind=EventKind.WORK, payload={"kind": "turned", "place": "p1", "by": "Ann", "time": 5})
    log_request(work, "")
    log_request(work, "there is no pile")
    log_request(Request(id=2, kind=EventKind.READINGS, payload={"rows": []}), "")
    assert [one.getMessage() for one in caplog.records] == [
        "Written down: work: turned p1 by Ann",
        "Refused: work: turned p1 by Ann (there is no pile)",
    ]
