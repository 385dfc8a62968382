"""`--only-say`: every command that writes into the log says what it would change, and writes nothing down."""

import json
import re
from pathlib import Path

import pytest
from typed_command import ENTRIES, call, yard_of

from monitor.app import commands

yard = yard_of(ENTRIES.replace("built = 2026-02-20T09:00:00Z\n", ""))


@pytest.fixture
def kept(yard):
    for words in (
        ("delivery", "stable litter", "400 kg", "--from", "the stable", "--risk", "none"),
        ("delivery", "leaves", "300 kg", "--from", "the park", "--risk", "none"),
        ("harvested", "b1", "20 kg", "--moisture", "75"),
    ):
        call(yard, "log", *words, "--again")
    call(yard, "lots", "make", "h3", "--amount", "10 kg")
    return yard


def lot_of(yard):
    return json.loads(call(yard, "lots", "--json"))[0]["lot"]


def written(yard):
    return call(yard, "log", "list", "--json")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("make", "h3", "--amount", "2 kg"), "It becomes a lot of its own, with all that went into it."),
        (("give", "LOT", "1 kg", "--to", "Ann"), "So much less of the lot is left"),
        (("test", "LOT", "bean test", "failed"), "The lot is held back as long as a test of it is not passed."),
    ],
)
def test_each_entry_about_lots_can_be_said_before(kept, words, says):
    before, words = written(kept), [lot_of(kept) if word == "LOT" else word for word in words]
    said = call(kept, "lots", *words, "--only-say")
    assert said.startswith("Not written down: ")
    assert says in said
    assert written(kept) == before
    assert json.loads(call(kept, "lots", *words, "--only-say", "--json"))["question"] is None


def test_the_commands_own_question_is_said_before_too(kept):
    said = call(kept, "lots", "give", lot_of(kept), "90 kg", "--to", "Ann", "--only-say", code=1)
    assert "You would be asked: Only 22 lb of it is left." in said
    assert "You would be asked" not in call(
        kept, "lots", "give", lot_of(kept), "90 kg", "--to", "Ann", "--only-say", "--again"
    )


def test_a_mix_says_what_its_heap_would_change(kept):
    before = written(kept)
    words = ("recipe", "--all", "stable litter=400 kg", "--some", "leaves=300 kg", "--bay", "5 x 5 ft")
    said = call(kept, *words, "--build", "p2", "--only-say")
    assert "Not written down: Bay 2 built" in said
    assert "A heap begins" in said
    assert written(kept) == before
    assert "--only-say goes with --build" in call(kept, *words, "--only-say", code=2)


def test_an_import_says_what_its_files_would_bring(kept):
    before = written(kept)
    (kept / "work.csv").write_text(
        "time,place,kind,amount,unit\n2026-05-01T10:00:00Z,b1,fed,2,kg\n2026-05-01T10:05:00Z,b1,fed,2,kg\n"
    )
    said = call(kept, "import", "--work", kept / "work.csv", "--only-say", code=1)
    assert "Nothing was taken in. The files have 0 readings and 2 pieces of work." in said
    assert "You would be asked: " in said
    assert written(kept) == before
    told = json.loads(call(kept, "import", "--work", kept / "work.csv", "--only-say", "--again", "--json"))
    assert told == {"readings": 0, "work": 2, "work_new": 2, "wrong": 0, "questions": []}
    assert written(kept) == before


def test_no_command_has_another_way_to_the_log():
    """A command that asks the writer itself would know nothing of `--only-say`; the one seam is `putting_down`."""
    ways = {
        path.stem
        for path in Path(commands.__file__).parent.glob("*.py")
        if re.search(r"from monitor\.app\.loop\.asking import .*\b(ask|asking)\b", path.read_text(encoding="utf-8"))
    }
    assert ways == {"putting_down", "log_rounds"}
