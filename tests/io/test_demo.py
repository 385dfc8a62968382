"""The demo goes through a real pseudo-terminal and shows what it promises."""

import subprocess
import sys

import pytest
from brokers import wait_until

from monitor.journal import open_reader, verify_chain
from monitor.model.effects import EffectKind
from monitor.model.events import EventKind
from monitor.model.times import HOUR_MS
from monitor.notices import NoticeReason
from monitor.simulate import WEEKEND_END, WEEKEND_START

pytestmark = pytest.mark.io


def test_the_demo_shows_a_weekend(tmp_path):
    folder = tmp_path / "yard"
    run = subprocess.run(
        [sys.executable, "-m", "monitor", "demo", "--seconds", "12", "--folder", str(folder)],
        capture_output=True,
        text=True,
        timeout=200,
    )
    assert run.returncode == 0, run.stderr
    assert run.stderr == ""
    messages = [line for line in run.stdout.splitlines() if "Message to" in line]
    assert any("Sunny wall bin: overheating" in line for line in messages)
    assert any("Sunny wall bin: WORMS IN DANGER" in line for line in messages)
    before, away = run.stdout.split("While you were away:")
    # On a slow computer it may share a letter with other news, below its first line.
    assert "Shed bin: no word from a probe" in before
    assert "Sunny wall bin" in away
    assert "at temperature throughout" in away, "nobody must act on it: it is a line, and no message of its own"
    assert not any("at temperature throughout" in line for line in messages)
    assert "Shed bin: no word from a probe since" in away
    assert "Its folder lives on in July 2026" in run.stdout
    with open_reader(folder / "data") as store:
        (opened, *_) = (one.at for one in store.events() if one.kind is EventKind.LINK and one.payload["up"])
        assert opened < WEEKEND_START, "no time passes before the nodes can be heard, however slow the start is"
        assert verify_chain(store) == []
        effects = store.effects_after(0, 100_000)
        assert len(effects) > 50
    # The keeper takes the danger at five past seven in the evening, and what is left of it on Monday.
    answered = [one for one in effects if one.draft.kind is EffectKind.ALARM and one.draft.after == "acknowledged"]
    assert [one.draft.axis for one in answered if one.at >= WEEKEND_START] == ["worms-in-danger", "overheating"]
    told = [one for one in effects if one.draft.kind is EffectKind.NOTICE and one.at >= WEEKEND_START]
    once = [
        one for one in told if one.draft.reason != NoticeReason.STILL_ON or one.draft.values["priority"] != "highest"
    ]
    assert 5 <= sum(one.draft.after == "keeper" for one in once) <= 10
    assert 2 <= sum(one.draft.after == "deputy" for one in once) <= 4
    assert len(told) - len(once) <= 8, (
        "a danger that nobody has answered is repeated, in the two hours and a half of it"
    )


def test_the_demo_ends_when_told(tmp_path):
    child = subprocess.Popen(
        [sys.executable, "-m", "monitor", "demo", "--seconds", "40", "--folder", str(tmp_path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert child.stdout is not None
    for line in child.stdout:
        if line.startswith(("Fri 17 Jul", "Sat 18 Jul")):
            break
    child.terminate()
    out, err = child.communicate(timeout=20)
    assert child.returncode == 0, err
    assert "While you were away:" in out


def test_the_demo_goes_on_where_it_is_told_to_stay(tmp_path):
    child = subprocess.Popen(
        [sys.executable, "-m", "monitor", "demo", "--seconds", "8", "--stay", "--folder", str(tmp_path)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert child.stdout is not None
    monday = False
    for line in child.stdout:
        monday = line.startswith("While you were away:")
        if monday:
            break
    wait_until(lambda: _last(tmp_path) > WEEKEND_END + HOUR_MS, "an hour of Monday in its record", 60)
    child.terminate()
    _, err = child.communicate(timeout=20)
    assert (monday, child.returncode, err) == (True, 0, "")


def _last(folder):
    with open_reader(folder / "data") as store:
        return store.mark().last_event or 0
