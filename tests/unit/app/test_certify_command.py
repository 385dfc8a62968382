"""`certify`, `rules` and `verify` as a person types them: shapes, exit codes, refusals."""

import json
import shlex
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from monitor import certificate
from monitor.app.command import heaptender
from monitor.model.errors import ConfigurationError, MisuseError, UnavailableError
from monitor.proof.rules import duration_rule_ids, rule_ids

ROOT = Path(__file__).parents[3]
KEYS = [
    "verdict", "rule", "pile", "from", "to", "total_s", "longest_run_s", "turnings", "unproven_s", "intervals", "reasons",
    "heat_status", "as_of", "turnings_logged", "came_after", "for_information", "confirmed_by", "conditions", "unbroken",
    "scattered", "days", "remarks", "thrown_away", "left_out", "assumed_s", "usual", "own_rule", "interim",
]  # fmt: skip
BAY3 = (
    "certify --readings demo-data/bay3.readings.csv.gz --work demo-data/bay3.work.csv --rule us-112-54-turned "
    "--method turned --pile p3 --probes p3-a,p3-b,p3-c"
)
OWN = """\
title = "Our county"
jurisdiction = "Our county"
section = "Ordinance 7"
methods = ["turned", "passive"]
feedstock = "leaves"
wording = "Three days at 131 °F or hotter."
source = "the county's office"
status = "memory"
[[alternatives]]
hold = "131 degF"
[[alternatives.parts]]
kind = "run"
duration = "72h"
"""


def run(command, **more):
    """Run a command; `code` is what the process would end with where nothing was raised."""
    told = CliRunner().invoke(heaptender, shlex.split(command), standalone_mode=False, **more)
    told.code = told.return_value or 0
    return told


@pytest.fixture
def table(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    def made(*values, name="r.csv"):
        rows = [
            f"2026-03-{1 + n // 24:02d}T{n % 24:02d}:00:00Z,a,temperature,{value},Cel\n"
            for n, value in enumerate(values)
        ]
        (tmp_path / name).write_text("time,probe,quantity,value,unit\n" + "".join(rows), encoding="utf-8")
        return name

    return made


def test_the_demo_files_make_a_certificate_without_configuration(monkeypatch):
    monkeypatch.chdir(ROOT)
    told = run(f"{BAY3} --json")
    assert told.code == 0, told.output
    verdict = json.loads(told.stdout)
    assert list(verdict) == KEYS
    assert (verdict["verdict"], verdict["turnings"], verdict["pile"]) == ("met", 5, "p3")
    text = run(BAY3).stdout
    assert text.startswith("Met: time and temperature of rule us-112-54-turned")
    assert "Read strictly, as one unbroken stretch: not met." in text
    assert BAY3 in (ROOT / "demo-data" / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("values", "more", "verdict", "code"),
    [
        ([56] * 73, "", "met", 0),
        ([56] * 72, "", "not met", 1),
        ([56] * 40 + [54] + [56] * 40, "", "not met", 1),
        ([56] * 73, "--max-gap 30m", "not proven", 1),
        ([56] * 73, "--guard 1.5", "not met", 1),
        ([56] * 73, "--guard 1", "met", 0),
    ],
)
def test_json_has_its_shape_for_every_verdict(table, values, more, verdict, code):
    told = run(f"certify --readings {table(*values)} --rule us-503-pfrp-static --pile p1 --json {more}")
    assert told.code == code, told.output
    found = json.loads(told.stdout)
    assert list(found) == KEYS
    assert found["verdict"] == verdict
    assert found["from"] == "2026-03-01T00:00:00.000Z"
    assert all(isinstance(pair, list) and len(pair) == 2 for pair in found["intervals"])
    assert all(isinstance(reason, str) and reason for reason in found["reasons"])
    assert round(found["total_s"], 3) == found["total_s"]
    assert told.stdout.count("\n") == 1


def test_seconds_have_three_decimals_at_most_and_ends_are_exact(table):
    told = run(f"certify --readings {table(54, 57, 57, 52)} --rule us-503-pfrp-static --pile p1 --json")
    found = json.loads(told.stdout)
    assert found["intervals"] == [["2026-03-01T00:20:00.000Z", "2026-03-01T02:24:00.000Z"]]
    assert found["total_s"] == 7440
    told = run(f"certify --readings {table(54, 57.1, 57, 52)} --rule us-503-pfrp-static --pile p1 --json")
    assert json.loads(told.stdout)["total_s"] == 7478.709


@pytest.mark.parametrize(
    ("command", "sentence"),
    [
        ("certify", "Say what is to be certified"),
        ("certify --readings r.csv --rule us-503-pfrp-static", "Name the pile"),
        ("certify --readings r.csv --pile p1", "Name the rule"),
        ("certify --readings r.csv --pile p1 --rule us-503-pfrp-statik", 'did you mean "us-503-pfrp-static"?'),
        ("certify --readings r.csv --pile p1 --rule us-503-pfrp-static --method turned", "covers"),
        ("certify --readings r.csv --pile p1 --rule us-503-pfrp-static --method heap", "is no method"),
        ("certify --readings r.csv --pile p1 --rule us-503-pfrp-static --max-gap soon", "is no duration"),
        ("certify --readings r.csv --pile p1 --rule us-503-pfrp-static --max-gap 0h", "is no duration"),
        ("certify --readings r.csv --pile p1 --rule us-503-pfrp-static --guard lots", "cannot be meant"),
        ("certify --readings r.csv --pile p1 --rule us-503-pfrp-static --length '12 parsecs'", "cannot be meant"),
        ("certify --readings r.csv --pile p1 --rule us-503-pfrp-static --declare curing", "who declares what"),
        ("certify --readings r.csv --pile p1 --rule us-503-pfrp-static --declare xyz=Ann", "has no condition"),
        ("certify --readings r.csv --pile p1 --rule us-503-pfrp-static --rule-file x.toml", "Name one rule"),
        ("certify --readings r.csv --pile p1 --rule-file x.toml", "x.toml does not exist"),
        ("certify --batch p1 --work w.csv", "--work goes with --readings"),
        ("certify --batch p1 --by-hand", "--by-hand goes with --readings"),
        ("certify --readings gone.csv --pile p1 --rule us-503-pfrp-static", "gone.csv"),
        ("verify gone.pdf", "gone.pdf does not exist"),
        ("rules us-503", "There is no rule"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_a_sentence(table, command, sentence):
    table(*[56] * 80)
    told = run(command)
    assert isinstance(told.exception, MisuseError), told.output
    assert sentence in str(told.exception)
    assert str(told.exception).endswith((".", "?", "name a recording"))
    assert told.stdout == ""


def test_a_method_left_unstated_is_never_refused(table):
    told = run(f"certify --readings {table(*[56] * 80)} --pile p1 --rule us-503-pfrp-windrow --json")
    assert told.code == 1
    assert list(json.loads(told.stdout)) == KEYS


def test_a_rule_of_the_sites_own(table, tmp_path):
    table(*[56] * 80)
    (tmp_path / "our-county.toml").write_text(OWN, encoding="utf-8")
    command = "certify --readings r.csv --pile p1 --rule-file our-county.toml"
    assert json.loads(run(f"{command} --json").stdout)["verdict"] == "met"
    assert run(command).stdout.startswith(
        "For information: time and temperature of rule our-county (Ordinance 7) are met"
    )
    confirmed = run(f'{command} --confirmed-by "Ann Example"').stdout
    assert confirmed.startswith("Met: time and temperature of rule our-county")
    assert "Ann Example has confirmed the figures" in confirmed
    (tmp_path / "our-county.toml").write_text(OWN.replace('kind = "run"', 'kind = "walk"'), encoding="utf-8")
    told = run(command)
    assert isinstance(told.exception, ConfigurationError)
    assert "our-county.toml" in str(told.exception)
    (tmp_path / "us-503-pfrp-static.toml").write_text(OWN, encoding="utf-8")
    told = run("certify --readings r.csv --pile p1 --rule-file us-503-pfrp-static.toml")
    assert "comes with the program" in str(told.exception)


def test_far_apart_readings_get_a_hint(table):
    told = run(f"certify --readings {table(*[56] * 80)} --rule us-503-pfrp-static --pile p1 --max-gap 30m")
    assert "--max-gap" in told.stdout


def test_rules_lists_all_and_says_everything_of_one(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("HEAPTENDER_CONFIG", raising=False)
    listed = json.loads(run("rules --json").stdout)
    assert [one["id"] for one in listed if one["kind"] == "heat"] == list(rule_ids())
    assert [one["id"] for one in listed if one["kind"] == "duration"] == list(duration_rule_ids())
    assert run("rules").stdout.splitlines()[-1].startswith(f"{len(listed)} rules. ")
    assert {one["id"]: one.get("hold_degc") for one in listed}["us-112-54-turned"] == 55
    text = run("rules").stdout
    assert all(rule_id in text for rule_id in rule_ids())
    one = json.loads(run("rules us-112-54-turned --json").stdout)
    assert one["conditions"]
    assert all(set(condition) == {"key", "text"} for condition in one["conditions"])
    whole = run("rules us-112-54-turned").stdout
    for part in (one["title"], one["wording"], one["source"], one["conditions"][0]["key"], "131 °F (55 °C)"):
        assert part in whole


def test_rules_lists_the_sites_own_where_there_is_a_configuration(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "our-county.toml").write_text(OWN, encoding="utf-8")
    (tmp_path / "heaptender.toml").write_text(
        '[rules]\nfiles = ["our-county.toml"]\n[rules.confirmed.our-county]\nby = "Ann Example"\nat = 2026-05-01\n',
        encoding="utf-8",
    )
    (own,) = (one for one in json.loads(run("rules --json").stdout) if one["own"])
    assert (own["id"], own["own"], own["for_information"]) == ("our-county", True, False)
    assert "confirmed by Ann Example" in run("rules our-county").stdout


@pytest.mark.parametrize(("ok", "compared", "code"), [(True, True, 0), (False, True, 1), (True, False, 3)])
def test_verify_says_what_was_found(tmp_path, monkeypatch, ok, compared, code):
    found = SimpleNamespace(
        ok=ok,
        sentences=("It is unchanged.",),
        faults=(),
        key_id="ab",
        verdict="met",
        pages_compared=compared,
    )
    monkeypatch.setitem(vars(certificate), "verify", lambda *_: found)
    (tmp_path / "c.pdf").write_bytes(b"%PDF-")
    told = run(f"verify {tmp_path / 'c.pdf'}")
    assert (told.code, told.stdout) == (code, "It is unchanged.\n")
    told = run(f"verify {tmp_path / 'c.pdf'} --json")
    assert told.code == code
    assert json.loads(told.stdout) == {
        "ok": ok, "pages_compared": compared, "verdict": "met", "key": "ab", "sentences": ["It is unchanged."],
        "faults": [],
    }  # fmt: skip


def test_the_certificate_is_written_where_it_is_said(table, tmp_path, monkeypatch):
    table(*[56] * 80)
    seen = {}

    def issue(case, issued_at, key, csv):
        seen.update(case=case, key=key, rows=csv)
        return b"%PDF-made"

    key = SimpleNamespace(key_id="0123456789abcdef" * 4)
    monkeypatch.setitem(vars(certificate), "issue", issue)
    monkeypatch.setattr(
        certificate, "open_key", lambda folder, owner, now: seen.update(folder=folder, owner=owner) or key
    )
    command = "certify --readings r.csv --rule us-503-pfrp-static --pile p1 --site Hollow"
    told = run(f"{command} --key-folder keys --out c.pdf")
    assert told.code == 0, told.output
    assert (tmp_path / "c.pdf").read_bytes() == b"%PDF-made"
    assert "c.pdf, signed with key 0123456789abcdef" in told.stdout
    assert (seen["folder"], seen["owner"], seen["case"].site) == (Path("keys"), "Hollow", "Hollow")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "mine"))
    run(f"{command} --out c.pdf")
    assert seen["folder"] == tmp_path / "mine" / "heaptender" / "keys"
    told = run(f"{command} --out gone/c.pdf")
    assert isinstance(told.exception, UnavailableError)
    assert told.stdout == ""


def test_a_written_certificate_verifies_and_a_changed_one_does_not(table, tmp_path):
    pytest.importorskip("typst")
    pytest.importorskip("pyhanko")
    command = (
        f"certify --readings {table(*[56] * 80)} --rule us-503-pfrp-static --pile p1 --key-folder keys --out c.pdf"
    )
    told = run(command)
    assert told.code == 0, told.exception
    assert run("verify c.pdf --key keys/signing-certificate.pem").code == 0
    found = json.loads(run("verify c.pdf --json").stdout)
    assert (found["ok"], found["verdict"], found["faults"]) == (True, "met", [])
    pdf = bytearray((tmp_path / "c.pdf").read_bytes())
    pdf[len(pdf) // 3] ^= 1
    (tmp_path / "c.pdf").write_bytes(pdf)
    told = run("verify c.pdf")
    assert told.code == 1
    assert told.stdout
    before = (tmp_path / "keys" / "signing-certificate.pem").read_bytes()
    assert run("certify --new-key --key-folder keys").code == 0
    assert (tmp_path / "keys" / "signing-certificate.pem").read_bytes() != before
    assert [path.read_bytes() for path in (tmp_path / "keys" / "former").iterdir()] == [before]
