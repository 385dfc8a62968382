"""The engine at speed: commits as columns, fed so that effects and state are those of feeding them one by one."""

from monitor.engine.stretch.commits import BARE, Commits, Piece, commits_from_events
from monitor.engine.stretch.door import feed_commits
from monitor.engine.stretch.prepared import Prepared, for_place, prepare, replay_pieces, run, start_of
from monitor.engine.stretch.record import ColumnHistory
