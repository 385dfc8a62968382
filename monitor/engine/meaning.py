"""What the engine means by a record, as a number: who changes what the same events decide raises it.

A journal that was decided under another number is sealed when it is next opened for writing
(`journal/meaning_seals.py`): what was decided stays, the open batches are worked out again, and from there on the events give
the effects again.
"""

from collections.abc import Mapping
from typing import Any

from monitor.engine.batches.pile_readings import advance_heaps, touch
from monitor.engine.context.core import Core
from monitor.engine.probes.silence_alarms import adopt_stages

MEANING = 2
"""Raised with each release in which the same events decide something else. 1 was never written down."""


def take_seal(core: Core, payload: Mapping[str, Any]) -> None:
    """Work each open batch out again under today's meaning; a bin goes on from where it stands.

    `rework` false: that failed once, so the batches go on as they stand too.
    """
    if not payload.get("rework", True):
        return
    core.marks.clear()
    for place in (*core.settings.piles, *core.settings.bins):
        adopt_stages(core, place)
    for run in core.state.runs.values():
        touch(run, run.built)
    advance_heaps(core)
