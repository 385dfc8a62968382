"""An alarm and a kind of work are each declared once; elsewhere nobody spells them out.

Words that also mean something else in plain English (`page`, `record`, `note`) cannot be told apart and are left alone.
"""

import pytest
from source import still_allowed, texts, trees

from monitor.model.alarm_kinds import CATALOG
from monitor.model.work import WorkKind

ORDINARY = {"hot", "silent", "broken", "clock", "link", "disk", "record", "backup", "page"}
ORDINARY_WORK = {"built", "moved", "split", "seen", "note", "fan"}

ALARMS = set(CATALOG) - ORDINARY
WORK = {kind.value for kind in WorkKind} - ORDINARY_WORK

DECLARED = {"stray_alarms": "model/alarm_kinds.py", "stray_work": "model/work.py"}
OTHER_WORDS = "model/words.py"
"""Declares the words of the trade, some of which an alarm or a kind of work has too (`overheating`, `turned`)."""


def strays(words, declared):
    """Return the modules that spell one of the words out, with those words."""
    found = {path: sorted(words & set(texts(path))) for path in trees() if path not in (declared, OTHER_WORDS)}
    return {path: some for path, some in found.items() if some}


BOTH = pytest.mark.parametrize(("which", "words"), [("stray_alarms", ALARMS), ("stray_work", WORK)])


@BOTH
def test_no_further_module_spells_them_out(which, words):
    allowed = still_allowed()[which]
    more = {path: some for path, some in strays(words, DECLARED[which]).items() if path not in allowed}
    assert more == {}, f"ask a property of the declaration in {DECLARED[which]}, or name its constant"


@BOTH
def test_what_is_allowed_is_still_there(which, words):
    gone = sorted(set(still_allowed()[which]) - strays(words, DECLARED[which]).keys())
    assert gone == [], "take these out of still_allowed.toml"


def test_the_words_are_those_that_are_declared():
    assert len(ALARMS) >= 10
    assert len(WORK) >= 10
    assert set(CATALOG) >= ORDINARY
    assert {kind.value for kind in WorkKind} >= ORDINARY_WORK
