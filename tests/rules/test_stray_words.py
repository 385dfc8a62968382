"""An alarm and a kind of work are each declared once; elsewhere nobody spells them out.

Words that also mean something else in plain English (`page`, `record`, `note`) cannot be told apart and are left alone.
"""

from collections import Counter

import pytest
from source import still_allowed, texts, trees

from monitor.alarms import CATALOG
from monitor.model.work import WorkKind

ORDINARY = {"hot", "silent", "broken", "clock", "link", "disk", "record", "backup", "page"}
ORDINARY_WORK = {"built", "moved", "split", "seen", "note", "fan"}

ALARMS = set(CATALOG) - ORDINARY
WORK = {kind.value for kind in WorkKind} - ORDINARY_WORK

DECLARED = {"stray_alarms": "alarms/catalog.py", "stray_work": "model/work.py"}


def strays(words, declared):
    """Return how often a module spells one of the words out, by its path."""
    found = {path: sum(text in words for text in texts(path)) for path in trees() if path != declared}
    return Counter({path: count for path, count in found.items() if count})


BOTH = pytest.mark.parametrize(("which", "words"), [("stray_alarms", ALARMS), ("stray_work", WORK)])


@BOTH
def test_no_module_spells_out_more(which, words):
    more = strays(words, DECLARED[which]) - Counter(still_allowed()[which])
    assert more == {}, f"ask a property of the declaration in {DECLARED[which]}, or name its constant"


@BOTH
def test_what_is_allowed_is_still_there(which, words):
    found = strays(words, DECLARED[which])
    gone = [path for path in still_allowed()[which] if path not in found]
    assert gone == [], "take these out of still_allowed.toml"


def test_the_words_are_those_that_are_declared():
    assert len(ALARMS) >= 10
    assert len(WORK) >= 10
    assert set(CATALOG) >= ORDINARY
    assert {kind.value for kind in WorkKind} >= ORDINARY_WORK
