"""A run without words decides what the run with words decides: months of made-up troubles, feeding, watering, duties."""

from dataclasses import replace

import pytest

from monitor.app.tuning_run.tuning_job import varies_of
from monitor.app.tuning_run.tuning_runs import run_of
from monitor.configuration import read_range
from monitor.engine import PEOPLE
from monitor.model.effects import EffectKind
from monitor.model.notice_values import keys_of
from monitor.model.settings import Contact
from monitor.tuning import sets_of
from tests.bench.tuning_worth import RANGES, made_up

CONTACTS = {
    "ann": Contact(name="Ann", quiet_end_minute=6 * 60),
    "ben": Contact(name="Ben", order=2, digest=False),
}


def told(effects):
    """What both kinds of run decide: all but texts, conditions of bins, and digests without notices beside them."""
    found = []
    for effect in effects:
        draft = effect.draft
        if draft.kind is EffectKind.NOTICE and keys_of(draft.values):
            # Where one run has a message of its own, the other may have it in the digest of that instant.
            found.append((effect.at, draft.after, keys_of(draft.values)))
        elif draft.kind not in (EffectKind.CONDITION, EffectKind.NOTICE):
            found.append((effect.at, replace(draft, why="", text="")))
    return found


@pytest.mark.parametrize(("seed", "people"), [(1, {}), (2, CONTACTS), (3, CONTACTS)])
def test_nothing_is_decided_otherwise_where_nobody_reads(seed, people):
    material = made_up(seed, 1_800, 120)
    if people:
        material.settings = replace(material.settings, contacts=people)
    varies = varies_of([read_range(text, material.settings, "b1") for text in RANGES])
    run = run_of(material, varies)
    for values in sets_of(varies, 3, seed):
        unread = told(run(values))
        assert unread == told(replace(run, audience=PEOPLE)(values))
        assert len(unread) > 50
