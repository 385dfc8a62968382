"""Feeds the same events through both doors of the engine, and compares what it says and what it remembers."""

from engine_yard import Drive

from monitor.engine import Engine
from monitor.engine.stretch import ColumnHistory, Commits, commits_from_events, feed_commits
from monitor.model.events import EventKind
from monitor.recordings.effect_lines import effect_line


class Recorder(Drive):
    """A drive that keeps its events."""

    def __init__(self, *args, **more):
        self.events = []
        super().__init__(*args, **more)

    def put(self, event):
        self.events.append(event)
        return super().put(event)


def fast(events, end=None, *, rows=400_000, least=2, split=None):
    """Feed events through the second door; `split` cuts columns into pieces of so many commits."""
    engine, history, effects = Engine(), ColumnHistory(), []
    for piece in commits_from_events(events):
        if isinstance(piece, Commits):
            effects += feed_commits(engine, piece, history, rows=rows, least=least)
        else:
            if piece.kind in (EventKind.IMPORTED, EventKind.READINGS):
                history.take(piece.payload)
            effects += engine.feed(piece, history)
    if end is not None:
        effects += engine.advance(end)
    return engine, [effect_line(effect) for effect in effects]


def same(drive, end, **more):
    drive.advance(end)
    engine, lines = fast(drive.events, end, **more)
    assert lines == drive.lines()
    assert engine.snapshot() == drive.engine.snapshot()
    assert engine.next_deadline() == drive.engine.next_deadline()
