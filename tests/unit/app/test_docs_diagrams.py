"""Diagrams and tables in docs/ are those of the declarations; rewrite them with `python -m tests.tools.diagrams docs/*.md`."""

import re

import pytest

from monitor.alarms.states import BY_OWN_END, Signal
from monitor.alarms.states import TRANSITIONS as ALARM_TRANSITIONS
from monitor.model.words import AlarmState, Phase
from monitor.piles.changes import TRANSITIONS as PHASE_TRANSITIONS
from tests.tools import diagrams


@pytest.mark.parametrize("page", diagrams.PAGES, ids=lambda page: page.name)
def test_a_page_holds_what_the_declarations_give(page):
    text = page.read_text(encoding="utf-8")
    assert text == diagrams.drawn(text)


def test_the_pages_hold_every_diagram_once():
    named = [one for page in diagrams.PAGES for one in re.findall(r"<!-- diagram: (\w+) -->", page.read_text("utf-8"))]
    assert sorted(named) == sorted(diagrams.DIAGRAMS)


def test_every_way_is_drawn():
    arrows = [line for line in diagrams.phases().splitlines() if "-->" in line]
    assert len(arrows) == len(PHASE_TRANSITIONS) + 1  # and the beginning
    own_ends = sum(signal in BY_OWN_END for _, signal in ALARM_TRANSITIONS)
    muted = sum(signal in (Signal.TAKEN_UP, Signal.BACK) for _, signal in ALARM_TRANSITIONS)
    arrows = [line for line in diagrams.alarms().splitlines() if "-->" in line]
    assert len(arrows) == len(ALARM_TRANSITIONS) + own_ends + muted + 1
    assert all(f'state "{state.value}"' in diagrams.phases() for state in Phase)
    assert all(f'state "{state.value}"' in diagrams.alarms() for state in AlarmState)


def test_what_stands_between_the_markers_is_replaced(tmp_path):
    page = tmp_path / "page.md"
    page.write_text("a\n<!-- diagram: alarm_table -->\nold words\n<!-- end of diagram -->\nb\n", encoding="utf-8")
    assert diagrams.main([str(page)]) == 0
    text = page.read_text(encoding="utf-8")
    assert text.startswith("a\n<!--")
    assert text.endswith("-->\nb\n")
    assert "old words" not in text
    assert diagrams.alarm_table() in text
    assert diagrams.drawn(text) == text


def test_an_unknown_diagram_is_refused():
    with pytest.raises(KeyError):
        diagrams.drawn("<!-- diagram: moon -->\n<!-- end of diagram -->")
    assert diagrams.main([]) == 2
