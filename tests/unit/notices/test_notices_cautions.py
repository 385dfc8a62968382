"""Cautions stand on the sheets and in the docs in the same words, and each place has those that concern it."""

from pathlib import Path

import pytest

from monitor.model.words import Method
from monitor.notices.cautions import BINS, COVERED, EVERYWHERE, HEAPS, VESSELS, cautions_for

PAGE = (Path(__file__).parents[3] / "docs" / "safety.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("text", [*EVERYWHERE, *HEAPS, *COVERED, *VESSELS, *BINS])
def test_the_docs_say_each_caution_and_how_it_is_known(text):
    (row,) = [line for line in PAGE.splitlines() if line.startswith(f"| {text} |")]
    assert row.removeprefix(f"| {text} |").strip(" |").startswith(("common practice", "from memory"))


def test_gas_comes_first_where_it_kills():
    assert "Never put your head or body into a vessel" in cautions_for(Method.VESSEL)[0]
    assert "carbon monoxide alarm" in cautions_for(Method.STATIC)[0]
    assert not any("vessel" in text for text in cautions_for(Method.TURNED))


@pytest.mark.parametrize("method", [None, *Method])
def test_each_place_is_told_that_local_codes_come_first(method):
    assert EVERYWHERE[0] in cautions_for(method)


@pytest.mark.parametrize("method", [None, *Method])
def test_whoever_sells_from_a_heap_or_a_bin_is_told_of_licences(method):
    assert any(text.startswith("Selling castings or compost") for text in cautions_for(method))


@pytest.mark.parametrize("method", [*Method])
def test_any_heap_may_stand_in_a_shed(method):
    assert any("carbon monoxide alarm in a closed shed" in text for text in cautions_for(method))


@pytest.mark.parametrize("method", [None, *Method])
def test_lifting_is_cautioned_of(method):
    assert any(text.startswith("Lifting: ") for text in cautions_for(method))
