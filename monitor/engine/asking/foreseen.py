"""Foresees the changes that each kind of work would make now, for the forms in which people choose it."""

from monitor.engine.asking.entry_questions import so_far_words
from monitor.engine.context.batch_runs import BatchRun
from monitor.engine.context.core import Core
from monitor.model.settings import Settings
from monitor.model.words import RuleState
from monitor.model.work import WorkKind
from monitor.model.work_kinds import Material, Where, kinds
from monitor.notices import clean, join_names


def foreseen(core: Core, place: str) -> dict[WorkKind, str]:
    """Return a sentence for each kind of work that would change the heap of a place now; none where nothing lies.

    Args:
        core: The engine's ports.
        place: Id of a pile.
    """
    lies = core.batches.on(place)
    run = core.state.runs.get(lies.batch) if lies is not None else None
    if run is None:
        return {}
    said = {row.kind: _said(core, place, run, row.material) for row in kinds(Where.PILE)}
    return {kind: words for kind, words in said.items() if words}


def _said(core: Core, place: str, run: BatchRun, change: Material) -> str:
    so_far = so_far_words(run)
    after, lost = (f" after {so_far}" if so_far else ""), so_far.removesuffix(" of its rule")
    is_lost = f"it becomes raw again and loses {lost}" if lost else "it is raw"
    if change is Material.TAKES_IN and run.rule is not RuleState.MET:
        return f"By raw material {is_lost}." if lost else ""
    record = f"with {so_far}" if so_far else "with its record"
    probes = _probes(core.settings, core.cores_of(place))
    return {
        Material.TAKES_IN: f"By raw material {is_lost}; what has met the same rule changes nothing.",
        Material.BEGINS: f"The heap that lies here ends{after}, and another begins.",
        Material.GOES: f"The heap goes {record}{probes}; that counts as a turning.",
        Material.PART_GOES: f"A part goes {record}; the rest stays as it is.",
        Material.JOINS: "The heap ends, and the one that takes it in becomes raw again unless both have met the same rule.",
        Material.ENDS: f"The heap ends{after}.",
    }.get(change, "")


def _probes(settings: Settings, probes: list[str]) -> str:
    names = [clean(settings.probes[one].name or one, 24) for one in probes if one in settings.probes]
    return f" and its probes {join_names(names)}" if len(names) > 1 else f" and its probe {names[0]}" if names else ""
