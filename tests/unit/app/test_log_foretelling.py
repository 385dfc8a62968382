"""`log` says what an entry changes: in its answer, and with `--only-say` before anything is written down."""

import json

import pytest
from typed_command import ENTRIES, call, yard_of

from monitor.page.forms.work_form import PILE_KINDS

yard = yard_of(ENTRIES)


def log(yard, *words, code=0):
    return call(yard, "log", *words, code=code)


@pytest.mark.parametrize(
    ("words", "changes"),
    [
        (("turned", "p1"), "It counts for its rule only after the heap's first instant at temperature."),
        (("moved", "p1", "--to", "p2"), "The heap goes with its record and its probe p1-a; that counts as a turning."),
        (("built", "p2", "3 bags of leaves"), "A heap begins."),
        (("watered", "b1", "2 gal"), "Nobody is told of too dry and too wet until "),
        (("emptied", "b1"), "Until something is put in, the bin is empty"),
        (("probe-out", "p1", "--probe", "p1-a"), "Readings of p1-a count for nothing until it is put in again."),
        (("delivery", "leaves", "3 bags"), "nobody knows until one is written down, or the word none."),
        (("delivery", "leaves", "3 bags", "--risk", "none"), "It adds to the stock."),
        (("delivery", "leaves", "3 bags", "--risk", "meat"), "It adds to the stock, and its risks go with it"),
        (("reading", "p1", "185"), "185 °F is fire danger"),
    ],
)
def test_what_an_entry_changes_is_said_before_and_with_it_in_the_same_words(yard, words, changes):
    ahead = log(yard, *words, "--only-say")
    assert ahead.startswith("Not written down: ")
    assert changes in ahead
    assert not (yard / "data" / "journal.db").exists(), "nothing was recorded"
    told = log(yard, *words)
    assert "Written down as 1:" in told
    assert changes in told


def test_an_entry_that_changes_nothing_but_the_log_says_so_only_if_asked(yard):
    assert "\nNothing changes but the log.\n" in log(yard, "seen", "p1", "--only-say")
    assert "Nothing changes" not in log(yard, "seen", "p1")


def test_a_question_is_shown_without_writing_anything_down(yard):
    log(yard, "turned", "p1")
    told = log(yard, "turned", "p1", "--only-say", code=1)
    assert "count as one with that of " in told
    assert "You would be asked: Bay 1 was turned " in told
    assert "You would be asked" not in log(yard, "turned", "p1", "--only-say", "--again")
    assert log(yard, "list", "p1").count("turned") == 1
    assert "there is no" in log(yard, "turned", "p9", "--only-say", code=2)


def test_the_same_as_json(yard):
    told = json.loads(log(yard, "turned", "p2", "--only-say", "--json", code=1))
    assert told["at"] is None
    assert told["question"].startswith("Nothing lies on Bay 2")
    assert told["changes"] == ""
    told = json.loads(log(yard, "emptied", "p1", "--json"))
    assert told["changes"] == "The heap ends."


def test_what_is_taken_back_says_that_nothing_is_lost(yard):
    log(yard, "watered", "p1", "40 L")
    assert "No heap loses anything by it." in log(yard, "undo", "1", "--only-say")
    assert "watered" in log(yard, "list", "p1")
    assert "TAKEN BACK" not in log(yard, "list", "p1")


def test_a_place_that_the_record_does_not_know_yet_is_known_beside_it(yard):
    log(yard, "seen", "p1")
    file = yard / "heaptender.toml"
    file.write_text(file.read_text() + '[piles.p4]\nname = "Bay 4"\n')
    assert "A heap begins." in log(yard, "built", "p4", "--only-say")


@pytest.mark.parametrize("kind", PILE_KINDS)
def test_every_kind_of_work_on_a_heap_can_be_said_before(yard, kind):
    more = ["--to", "p2"] if kind in ("moved", "split", "merged") else []
    more = [*more, "--note", "x"] if kind == "note" else more
    told = log(yard, kind, "p1", *more, "--only-say", "--again")
    assert told.startswith("Not written down: Bay 1 ")
    assert len(told.splitlines()) == 2
