"""The engine's meaning, a number that is raised when the same events come to decide something else.

A journal that was decided under another number is sealed when it is next opened for writing (`journal/meaning_seals.py`): its
decisions stay, the open batches are worked out again, and from there on replaying the events gives the effects again.
"""

from collections.abc import Mapping
from typing import Any

from monitor.engine.batches.pile_readings import advance_heaps, touch
from monitor.engine.context.core import Core
from monitor.engine.probes.silence_alarms import adopt_stages

MEANING = 2
"""Raised once in each release in which the same events decide something else. No journal holds the number 1."""


def take_seal(core: Core, payload: Mapping[str, Any]) -> None:
    """Work each open batch out again under today's meaning; a bin goes on from its present state.

    If `rework` is false in the payload, that failed once, so the batches too go on from their present state.
    """
    if not payload.get("rework", True):
        return
    core.marks.clear()
    for place in (*core.settings.piles, *core.settings.bins):
        adopt_stages(core, place)
    for run in core.state.runs.values():
        touch(run, run.built)
    advance_heaps(core)
