"""Every figure has a source that exists, or says that it has none."""

import re
import tomllib
from pathlib import Path

import pytest

from monitor.configuration import keys_of
from monitor.model.thresholds import BinThresholds, PileThresholds, ProbeThresholds
from monitor.proof.rules import rule_ids

ROOT = Path(__file__).parents[3]
TEXT = (ROOT / "docs" / "sources.md").read_text(encoding="utf-8")
NO_SOURCE = "common practice, no published source"
KNOWN = ("seen", "seen-2nd", "computed", "memory", NO_SOURCE)


def entries():
    rows = re.findall(r'^\| <a id="s(\d+)"></a>S(\d+) \| (.+?) \| (.+?) \| (.+?) \|$', TEXT, re.MULTILINE)
    assert all(anchor == number for anchor, number, *_ in rows)
    return {int(number): (what, used, known) for _, number, what, used, known in rows}


def table(name):
    part = TEXT.split(f"### `[thresholds.{name}]`", 1)[1].split("###", 1)[0]
    return dict(re.findall(r"^\| `(\w+)` \| (.+) \|$", part, re.MULTILINE))


def texts():
    for pattern in ("*.md", "docs/**/*.md", "firmware-notes/*.md", "demo-data/*.md", "config/*", "monitor/**/*.py",
                    "monitor/**/*.toml"):  # fmt: skip
        for path in ROOT.glob(pattern):
            if path.is_file():
                yield path, path.read_text(encoding="utf-8")


def test_sources_are_numbered_without_gaps():
    assert list(entries()) == list(range(1, len(entries()) + 1))


def test_every_source_says_how_it_is_known():
    for number, (_, _, known) in entries().items():
        assert re.split(r"[,;:.]? ", known)[0].rstrip(",;:.") in KNOWN or any(word in known for word in KNOWN), number


@pytest.mark.parametrize(
    ("name", "cls"), [("pile", PileThresholds), ("bin", BinThresholds), ("probe", ProbeThresholds)]
)
def test_every_threshold_names_its_source(name, cls):
    rows = table(name)
    assert list(rows) == list(keys_of(cls))
    assert [key for key, told in rows.items() if told != NO_SOURCE and not re.search(r"\[S\d+\]", told)] == []


def test_every_mention_of_a_source_resolves():
    known = entries()
    mentions = {
        (str(path.relative_to(ROOT)), int(number))
        for path, text in texts()
        for number in re.findall(r"\[S(\d+)\]|sources\.md#s(\d+)", text)
        for number in number
        if number
    }
    assert len(mentions) > 15
    assert [mention for mention in sorted(mentions) if mention[1] not in known] == []


@pytest.mark.parametrize("rule", sorted(rule_ids()))
def test_every_rule_is_known_as_its_file_says(rule):
    with (ROOT / "monitor" / "proof" / "rules" / f"{rule}.toml").open("rb") as file:
        told = tomllib.load(file)
    rows = [known for _, used, known in entries().values() if f"`{rule}`" in used]
    assert len(rows) == 1
    wanted = NO_SOURCE if told["source"] == NO_SOURCE else told["status"]
    assert re.match(rf"{re.escape(wanted)}(\b(?!-)|$)", rows[0])
