"""The engine's working memory while it takes in an event or serves a deadline, in three ports, each wider than the one before.

`Places` answers questions about the memory and about where things are; `Signals` takes alarms that begin or end, and
deadlines; `Core` tells people, and holds values prepared or kept for speed. A function takes the narrowest port that it can.
"""

from collections.abc import Mapping
from typing import Any

from monitor.conditioning import Conditioner
from monitor.engine.context.audience import PEOPLE, Audience
from monitor.engine.context.batch_feeder import Heap
from monitor.engine.context.batch_runs import open_walk
from monitor.engine.context.checkpoints import Marks
from monitor.engine.context.history import History
from monitor.engine.context.late_flags import LateFlags
from monitor.engine.context.route import Route
from monitor.engine.context.signals import Signals
from monitor.engine.context.state import EngineState
from monitor.model.effects import Draft, Effect
from monitor.model.flags import Verdict
from monitor.notices import SoonDue, Watched, Words, nothing_due
from monitor.piles import Walk


class Core(Signals):
    """One engine's widest port.

    Attributes:
        history: The record, or None while a deadline is served (no deadline needs it).
        effects: The effects that were not taken yet.
        verdicts: The quality flags that became final and were not taken yet.
        audience: The readers of the words.
        desk: Decides whom to tell.
        conditioner: Calibrates and flags readings.
        late_flags: Says what follows without a reading: the conditioner, or in a run of commits what is known of that.
        walks: Open walks by batch, each working on its run's state.
        routes, heaps: Prepared for readings, by probe and by batch; made again when anything moves.
        keeps_all: Whether work that no batch under watch needs is kept too (to look at a batch that is used up).
        marks: The points from which the record of a batch can be worked out again.
        met_known: Whether a batch had met a rule at the instant at which it came into another; a cache like the marks.
        stuck: (probe, turning) of probes that no reading showed back before the next turning, as the last rework found.
    """

    def __init__(
        self,
        state: EngineState,
        words: Words | None = None,
        watched: Watched = tuple,
        audience: Audience = PEOPLE,
        due: SoonDue = nothing_due,
    ) -> None:
        self.watched = watched
        self.due = due
        self.words = words
        self.audience = audience
        self.history: History | None = None
        self.effects: list[Effect] = []
        self.verdicts: list[Verdict] = []
        self.keeps_all = False
        self.stuck: set[tuple[str, int]] = set()
        self.stepped: dict[str, bool] = {}
        self.marks = Marks()
        self.met_known: dict[tuple[str, int, str], bool] = {}
        super().__init__(state)

    def renew(self) -> None:
        """Prepare again everything that depends on the settings."""
        super().renew()
        state = self.state
        self.routes: dict[str, Route] = {}
        self.heaps: dict[str, Heap] = {}
        self.marks.clear()
        self.met_known.clear()
        self.desk = self.audience.desk(state.desk, state.settings, self.words, watched=self.watched, due=self.due)
        self.conditioner = Conditioner(state.conditioning, state.settings)
        self.late_flags: LateFlags = self.conditioner
        self.walks: dict[str, Walk] = {
            batch: open_walk(run, self.thresholds_of(run)) for batch, run in state.runs.items()
        }

    def emit(self, draft: Draft) -> None:
        """Give a draft its id and add it to the effects."""
        state = self.state
        if state.effect_at != self.at:
            state.effect_at, state.ordinal = self.at, 0
        self.effects.append(Effect(at=self.at, ordinal=state.ordinal, draft=draft))
        state.ordinal += 1


def with_batch(values: Mapping[str, Any], batch: str | None) -> dict[str, Any]:
    """Return an effect's values with the batch named, where there is one."""
    return {**values, "batch": batch} if batch else dict(values)
