"""Each command ends as the README promises, with one line for people and no traceback, in every case of error."""

import subprocess
import sys
import time

import pytest

from monitor.app import command as commands
from monitor.app.command import SUMMARIES
from monitor.app.commands import run_command
from monitor.app.loop import asking
from monitor.journal import WriterLock

YARD = """
[site]
name = "Test yard"
time_zone = "UTC"
temperature_unit = "degC"
[piles.p1]
name = "Bay 1"
[bins.b1]
[probes.p1-a]
place = "p1"
[page]
on = false
"""
READINGS = "time,probe,quantity,value,unit\n2026-06-01T00:00:00Z,p1-a,temperature,57,Cel\n"

NEEDS_CONFIGURATION = {
    "run": (),
    "check": (),
    "restore": ("junk",),
    "reload": (),
    "pack": ("yard.yard",),
    "status": (),
    "listen": ("--seconds", "1"),
    "replay": (),
    "tune": ("--place", "p1"),
    "label": (),
    "certify": ("--batch", "p1"),
    "diary": (),
    "feeding": (),
    "bed": (),
    "harvest": (),
    "stock": (),
    "lots": (),
    "report": (),
    "log": ("turned", "p1"),
    "export": ("readings",),
    "import": ("readings.csv",),
}
"""Commands that read the configuration, each with words that would be right."""

WITHOUT = {"unpack", "demo", "verify", "rules", "password", "recipe"}


@pytest.fixture
def yard(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("HEAPTENDER_CONFIG", raising=False)
    (tmp_path / "heaptender.toml").write_text(YARD)
    (tmp_path / "readings.csv").write_text(READINGS)
    (tmp_path / "empty").write_text("")
    (tmp_path / "junk").write_bytes(bytes(range(256)) * 8)
    (tmp_path / "table.csv").write_text("colour,size\nred,3\n")
    (tmp_path / "folder").mkdir()
    return tmp_path


@pytest.fixture
def ended(yard, monkeypatch, capsys):
    """A function that calls a command as a person does, and returns its exit code and what it says."""

    def call(*words):
        monkeypatch.setattr(sys, "argv", ["heaptender", *words])
        with pytest.raises(SystemExit) as left:
            commands.main()
        said = capsys.readouterr()
        assert "Traceback" not in said.err
        assert "itself is at fault" not in said.err
        return left.value.code, said.out, said.err

    return call


def test_every_command_is_looked_at():
    assert set(SUMMARIES) == set(NEEDS_CONFIGURATION) | WITHOUT


@pytest.mark.parametrize("name", NEEDS_CONFIGURATION)
@pytest.mark.parametrize(
    ("text", "said"),
    [
        (None, "no.toml does not exist"),
        (b"broken = [", "no.toml, line 1:"),
        (b"\xff\xfe\x00", "this is not UTF-8 text"),
        (b"[piles.p1]\nrle = 3\n", 'no.toml, line 2: piles.p1.rle: this key is unknown; did you mean "rule"?'),
    ],
)
def test_a_configuration_that_cannot_be_used(ended, yard, name, text, said):
    if text is not None:
        (yard / "no.toml").write_bytes(text)
    code, out, err = ended(name, *NEEDS_CONFIGURATION[name], "--config", "no.toml")
    answered = name == "check" and text is not None  # what is wrong is its answer
    assert code == (1 if answered else 2)
    told = out if answered else err
    assert said in told
    assert told.count("\n") == 1


@pytest.mark.parametrize(
    "words",
    [
        ("status",),
        ("status", "--json"),
        ("status", "--leaving"),
        ("export", "readings"),
        ("export", "events"),
        ("export", "work"),
        ("export", "effects"),
        ("export", "notices"),
        ("log", "list"),
        ("log", "undo", "1"),
        ("log", "seen", "b1/overheating"),
        ("certify", "--batch", "p1"),
        ("tune", "--place", "p1"),
        ("replay",),
    ],
)
def test_no_journal_yet(ended, yard, words):
    code, out, err = ended(*words)
    assert (code, out) == (3, "")
    assert err.startswith(f"there is no journal in {yard}/data yet: start the daemon or log something first")
    assert err.count("\n") == 1
    assert not (yard / "data").exists()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("export", "readings", "--place", "zz"), 'there is no pile or bin "zz"'),
        (("log", "turned", "zz"), 'there is no pile or bin "zz"'),
        (("log", "reading", "zz", "57"), 'there is no pile or bin "zz"'),
        (("log", "moved", "p1", "--to", "zz"), 'there is no pile or bin "zz"'),
        (("log", "list", "zz"), 'there is no pile or bin "zz"'),
        (("label", "zz", "yesterday 10:00", "yesterday 11:00", "trouble"), 'there is no pile or bin "zz"'),
        (("tune", "--place", "zz"), 'here is no pile or bin "zz"'),
        (("check", "--offline", "--send", "zz"), 'there is no contact "zz"'),
        (("rules", "zz"), 'There is no rule "zz"'),
    ],
)
def test_a_place_that_is_not_there(ended, words, said):
    code, _, err = ended(*words)
    assert code == 2
    assert said in err
    assert err.count("\n") == 1


BY_FILES = ("--rule", "us-112-54-turned", "--pile", "p1", "--probes", "p1-a")


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("restore", "FILE"), {"gone": 2, "folder": 2, "empty": 3, "junk": 3, "table.csv": 3}),
        (("import", "FILE"), {}),
        (("replay", "FILE"), {}),
        (("replay", "readings.csv", "--work", "FILE"), {}),
        (("tune", "FILE", "--place", "p1"), {}),
        (("certify", "--readings", "FILE", *BY_FILES), {}),
        (("certify", "--readings", "readings.csv", "--work", "FILE", *BY_FILES), {}),
        (("certify", "--readings", "readings.csv", *BY_FILES[2:], "--rule-file", "FILE"), {}),
        (("verify", "FILE"), {"empty": 1, "junk": 1, "table.csv": 1}),
        (("verify", "empty", "--key", "FILE"), {}),
    ],
)
@pytest.mark.parametrize("file", ["gone", "folder", "empty", "junk", "table.csv"])
def test_a_file_that_is_not_there_or_another_one(ended, words, code, file):
    got, out, err = ended(*(file if word == "FILE" else word for word in words))
    assert got == code.get(file, 2)
    assert file in err or got == 1
    assert err or out


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("certify", "--readings", "readings.csv", *BY_FILES, "--out", "gone/x.pdf"), 3),
        (("certify", "--readings", "readings.csv", *BY_FILES, "--out", "folder"), 2),
        (("certify", "--readings", "readings.csv", *BY_FILES), 1),
        (("label",), 0),
        (("check", "--offline"), 0),
        (("rules",), 0),
        (("replay", "readings.csv"), 0),
    ],
)
def test_what_cannot_be_written_what_is_not_so_and_what_is_well(ended, words, code):
    assert ended(*words)[0] == code


@pytest.mark.parametrize("name", SUMMARIES)
def test_a_slip_of_the_fingers_is_one_line_that_names_the_help(ended, name):
    code, out, err = ended(name, "--zzz")
    assert (code, out) == (2, "")
    assert "--zzz" in err
    assert f"`heaptender {name} --help`" in err
    assert err.count("\n") == 1


def test_an_unknown_command_and_none(ended):
    code, _, err = ended("chekc")
    assert (code, err.count("\n")) == (2, 1)
    assert "chekc" in err
    code, out, err = ended()
    assert (code, out) == (2, "")
    assert "Watch the yard: run the daemon." in err


def test_a_password_without_a_terminal():
    def made(typed):
        words = [sys.executable, "-m", "monitor", "password"]
        run = subprocess.run(words, input=typed, capture_output=True, text=True, start_new_session=True)
        return run.returncode, run.stdout, run.stderr

    assert made("") == (2, "", "No password was typed; nothing was made.\n")
    assert made("short\n")[0] == 2
    code, out, err = made("a dozen letters\n")
    told = "A guesser needs about 10^11 tries for it; 10^8 would be too few.\n"
    assert (code, out[:7], err) == (0, "scrypt$", told)
    code, out, err = made("password1234\n")
    assert (code, out) == (2, "")
    assert err.startswith("This password is no secret: it is among the first 100,000 that a guesser tries; take four")
    assert made("a dozen letters\na dozen lettres\n") == (2, "", "The two differ; nothing was made.\n")


def test_a_journal_that_another_process_holds(ended, yard, monkeypatch):
    monkeypatch.setattr(run_command, "LOCK_WAIT_S", 0.1)
    (yard / "data").mkdir(mode=0o700)
    (yard / "data" / "copy.sqlite").write_text("anything")
    with WriterLock(yard / "data"):
        for words in (("run",), ("restore", str(yard / "data" / "copy.sqlite"))):
            code, _, err = ended(*words)
            assert code == 3
            assert f"already holds the data folder {yard}/data" in err


@pytest.mark.parametrize(
    "words", [("log", "watered", "p1"), ("import", "readings.csv"), ("import", "--work", "work.csv")]
)
def test_whoever_holds_the_journal_and_never_answers_is_not_waited_for_without_end(ended, yard, monkeypatch, words):
    monkeypatch.setattr(asking, "ANSWER_S", 0.3)
    (yard / "work.csv").write_text("time,place,kind\n2026-06-01T00:00:00Z,p1,watered\n")
    assert ended("log", "fed", "b1")[0] == 0
    with WriterLock(yard / "data"):
        begun = time.monotonic()
        code, out, err = ended(*words)
        took = time.monotonic() - begun
    assert (code, out) == (3, "")
    assert "has not answered in time" in err
    assert err.count("\n") == 1
    assert took < 20


def test_a_sentence_that_quotes_a_hostile_file_is_shown_and_never_obeyed(tmp_path, monkeypatch, capsys):
    """Found by fuzzing: the name of a material went to the terminal as it stood in the file."""
    table = tmp_path / "own.csv"
    table.write_text("material,moisture,nitrogen,cn\nl\x1b[2Jeaves,40,1,30\nl\x1b[2Jeaves,40,1,30\n")
    monkeypatch.setattr(sys, "argv", ["heaptender", "recipe", "--list", "--materials", str(table)])
    with pytest.raises(SystemExit) as end:
        commands.main()
    said = capsys.readouterr().err
    assert end.value.code == 2
    assert "\\x1b[2Jeaves" in said
    assert "\x1b" not in said
