"""Every deliberately broken configuration is told in exactly these sentences; UPDATE_GOLDEN=1 writes them anew."""

import os
from pathlib import Path

import pytest

from monitor.configuration import load
from monitor.model.errors import ConfigurationError

FOLDER = Path(__file__).parent / "broken"
CASES = sorted(path.stem for path in FOLDER.glob("*.toml"))


def sentences(name: str) -> str:
    with pytest.raises(ConfigurationError) as caught:
        load(FOLDER / f"{name}.toml", {}, rules=["us-112-54-turned", "us-112-54-vessel"])
    return "".join(f"{line}\n" for line in caught.value.problems).replace(f"{FOLDER.resolve()}{os.sep}", "")


def test_there_are_at_least_ten() -> None:
    assert len(CASES) >= 10


@pytest.mark.parametrize("name", CASES)
def test_sentences_are_the_golden_ones(name: str) -> None:
    golden = FOLDER / f"{name}.txt"
    told = sentences(name)
    if os.environ.get("UPDATE_GOLDEN"):
        golden.write_text(told, encoding="utf-8")
    assert told == golden.read_text(encoding="utf-8")


@pytest.mark.parametrize("name", CASES)
def test_each_sentence_says_where_what_and_what_would_be_right(name: str) -> None:
    for line in sentences(name).splitlines():
        assert line.startswith(f"{name}.toml"), line
        assert ", line " in line, line
        assert "; " in line, line
        assert line.endswith((".", "?")), line
        assert "hunter2" not in line, line
