"""An alarm, a kind of work and a payload form are each declared once; elsewhere nobody spells them out.

Words that also mean something else (`page`, `record`, `note`, `json`) cannot be told apart and are left alone.
"""

import pytest
from source import texts, trees

from monitor.model.alarm_kinds import CATALOG
from monitor.model.payload_forms import PAYLOAD_FORMS
from monitor.model.work import WorkKind

ORDINARY = {"hot", "silent", "broken", "clock", "link", "disk", "record", "backup", "page"}
ORDINARY_WORK = {"built", "moved", "split", "seen", "note", "fan", "counted", "away"}

ALARMS = set(CATALOG) - ORDINARY
FORMS = set(PAYLOAD_FORMS) - {"number", "json"}
WORK = {kind.value for kind in WorkKind} - ORDINARY_WORK

OTHER_WORDS = "model/words.py"
"""Declares the words of the trade, some of which an alarm or a kind of work has too (`overheating`, `turned`)."""


def strays(words, declared):
    """Return the modules that spell one of the words out, with those words."""
    found = {path: sorted(words & set(texts(path))) for path in trees() if path not in (declared, OTHER_WORDS)}
    return {path: some for path, some in found.items() if some}


@pytest.mark.parametrize(
    ("declared", "words"),
    [("model/alarm_kinds.py", ALARMS), ("model/work.py", WORK), ("model/payload_forms.py", FORMS)],
    ids=["alarms", "work", "forms"],
)
def test_no_other_module_spells_them_out(declared, words):
    assert strays(words, declared) == {}, f"ask a property of the declaration in {declared}, or name its constant"
    assert strays(words, "") != {}, "the rule sees none even where they are declared"


def test_the_words_are_those_that_are_declared():
    assert len(ALARMS) >= 10
    assert len(WORK) >= 10
    assert FORMS
    assert set(CATALOG) >= ORDINARY
    assert {kind.value for kind in WorkKind} >= ORDINARY_WORK
