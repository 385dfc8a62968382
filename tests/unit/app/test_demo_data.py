"""Replaying each recording of demo-data/ gives the effects stored beside it.

After a change of the engine that is meant: UPDATE_GOLDEN=1 pytest tests/unit/app/test_demo_data.py, and read the difference.
"""

import json
import os
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from monitor.app.command import heaptender
from monitor.configuration import load_text
from monitor.proof.rules import rule_ids
from tests.tools.demo_data import PIECES, small_yard, weekend_yard, write

ROOT = Path(__file__).parents[3]
FOLDER = ROOT / "demo-data"
README = FOLDER / "README.md"

COMMANDS = {
    "weekend": "heaptender replay demo-data/weekend.readings.csv.gz --work demo-data/weekend.work.csv "
    "--config demo-data/yard.toml --json",
} | {
    piece.name: f"heaptender replay demo-data/{piece.name}.readings.csv --config demo-data/{piece.name}.toml --json"
    for piece in PIECES
}


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_a_replay_decides_what_is_stored(name, monkeypatch):
    monkeypatch.chdir(ROOT)
    run = CliRunner().invoke(heaptender, shlex.split(COMMANDS[name])[1:])
    assert run.exit_code == 0, run.output
    assert run.stderr == ""
    golden = FOLDER / f"{name}.effects.jsonl"
    if os.environ.get("UPDATE_GOLDEN"):
        golden.write_text(run.stdout, encoding="utf-8", newline="\n")
    assert run.stdout.splitlines() == golden.read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_the_readme_names_each_replay(name):
    assert COMMANDS[name] in README.read_text(encoding="utf-8").replace("\\\n", "").replace("        ", " ")


def test_the_recordings_show_what_they_promise():
    def effects(name):
        return (FOLDER / f"{name}.effects.jsonl").read_text(encoding="utf-8")

    assert '"axis":"worms-in-danger"' in effects("sunny-bin")
    assert '"from":"heating","to":"holding"' in effects("bay1-heats-up")
    assert '"axis":"silent"' in effects("silent-probe")
    weekend = effects("weekend")
    assert all(f'"axis":"{alarm}"' in weekend for alarm in ("overheating", "worms-in-danger", "silent", "too-wet"))


def test_everything_there_is_named_in_the_readme_and_small():
    files = [path for path in FOLDER.iterdir() if path.name != "README.md"]
    text = README.read_text(encoding="utf-8")
    assert [path.name for path in files if path.name not in text] == []
    assert sum(path.stat().st_size for path in files) < 450_000


def test_the_module_writes_every_recording_that_is_there(tmp_path):
    written = {path.name for path in write(tmp_path)}
    there = {path.name for path in FOLDER.iterdir() if path.suffix in (".csv", ".gz", ".toml")}
    assert written == there
    for name in written:
        if name.endswith(".toml"):
            assert (tmp_path / name).read_text(encoding="utf-8") == (FOLDER / name).read_text(encoding="utf-8")


def test_the_configurations_load():
    for text in (weekend_yard(), *(small_yard(piece.places) for piece in PIECES)):
        configuration = load_text(text, Path("yard.toml"), {}, rules=rule_ids())
        assert configuration.settings.probes


def test_the_weekend_sends_no_more_than_a_person_wants_and_nothing_less():
    """At most ten messages to the keeper and four to the deputy; repeats of a danger that nobody answers stand outside."""
    told = {"keeper": [], "deputy": []}
    again = 0
    for line in (FOLDER / "weekend.effects.jsonl").read_text(encoding="utf-8").splitlines():
        effect = json.loads(line)
        if effect["kind"] != "notice":
            continue
        if effect["values"]["priority"] == "highest" and effect["reason"] == "still on":
            again += 1
            continue
        told[effect["to"]].append((effect["axis"], effect["text"].split(",")[0]))
    assert told["keeper"] == [
        ("new", "Shade bin: too wet"),
        ("digest", "Shade bin: too wet"),
        ("new", "Shed bin: no word from a probe since 13:30"),
        ("digest", "Shed bin: no word from a probe"),
        ("new", "Sunny wall bin: overheating"),
        ("repeat", "Sunny wall bin: overheating"),
        ("new", "Sunny wall bin: WORMS IN DANGER"),
        ("new", "Sunny wall bin: worms in danger"),
        ("digest", "Sunny wall bin: overheating"),
    ]
    assert told["deputy"] == [
        ("passed on", "Sunny wall bin: overheating"),
        ("repeat", "Sunny wall bin: overheating"),
        ("passed on", "Sunny wall bin: WORMS IN DANGER"),
        ("new", "Sunny wall bin: worms in danger"),
    ]
    assert again > 0
