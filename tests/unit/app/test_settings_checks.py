"""What `check` says of settings that can be read and yet cannot be meant."""

from pathlib import Path

import pytest
from typed_command import typed

from monitor.app.checks.settings_checks import settings_checks
from monitor.configuration import load_text
from monitor.model.times import parse_time
from monitor.proof.rules import rule_names

NOW = parse_time("2026-11-29T12:00:00Z")
TURNED = '[piles.p1]\nrule = "us-112-54-turned"\nmethod = "turned"\n'
PROBE = '[probes.a]\nplace = "p1"\n'


def found(text):
    configuration = load_text(text, Path("heaptender.toml"), {}, rules=rule_names())
    return {(one.what, one.ok): one.words for one in settings_checks(configuration, NOW)}


def test_a_yard_as_it_should_be_needs_no_word():
    assert found(TURNED + "built = 2026-11-28T12:00:00Z\n" + PROBE) == {}
    assert found('[piles.p1]\nrule = "none"\nmethod = "passive"\n' + PROBE) == {}


@pytest.mark.parametrize(("method", "covered"), [("passive", False), ("turned", True)])
def test_a_rule_that_does_not_cover_the_method(method, covered):
    told = found(f'[piles.p1]\nrule = "us-112-54-turned"\nmethod = "{method}"\n{PROBE}')
    assert (("pile p1", False) not in told) is covered
    if not covered:
        assert told["pile p1", False].startswith(
            "Rule us-112-54-turned (21 CFR 112.54(b)(2)) covers turned composting, not passive;"
        )


def test_dates_to_come():
    assert "2036-01-01" in found(TURNED + "built = 2036-01-01T00:00:00Z\n" + PROBE)["pile p1", False]
    bed = "[bins.b1]\nbegun = {}\n"
    assert (
        "`begun` lies ahead (2036-01-01), so nothing is fed"
        in found(TURNED + PROBE + bed.format("2036-01-01"))["bin b1", True]
    )
    assert found(TURNED + PROBE + bed.format("2026-11-30")) == {}, "a day of UTC may not have come yet somewhere"
    calibration = '[[probes.a.calibration]]\nfrom = 2036-01-01T00:00:00Z\npoints = [["0.4 degC", "0 degC"]]\n'
    assert "2036-01-01" in found(TURNED + PROBE + calibration)["probe a", True]


def test_nothing_to_watch_is_told():
    assert "nothing is watched" in found("")["places", True]
    assert "what you read by hand" in found(TURNED)["probes", True]


def test_the_command_ends_with_one_for_it_and_two_without_a_file(tmp_path):
    file = tmp_path / "heaptender.toml"
    file.write_text('[piles.p1]\nrule = "us-112-54-turned"\nmethod = "passive"\n')
    told = typed("check", "--offline", "--config", str(file), code=1)
    assert f"{file}: ok; 1 pile, 0 bins, 0 probes, 0 contacts." in told
    assert "pile p1: NOT OK;" in told
    assert "does not exist" in typed("check", "--config", str(tmp_path / "none.toml"), code=2)


def test_listening_in_vain_ends_with_one(tmp_path):
    file = tmp_path / "heaptender.toml"
    file.write_text('[serial.shed]\nurl = "loop://"\n')
    assert "Nothing arrived." in typed("listen", "--seconds", "0.5", "--config", str(file), code=1)
    file.write_text("")
    assert "name a broker or a port" in typed("listen", "--seconds", "0.5", "--config", str(file), code=2)


@pytest.mark.parametrize(("key", "usual", "laxer"), [("max_gap", "2h", "30d"), ("hand_gap", "26h", "31d")])
def test_gaps_that_let_more_pass_than_is_usual(key, usual, laxer):
    assert found(f'{TURNED}thresholds.{key} = "{usual}"\n{PROBE}') == {}
    told = found(f'{TURNED}thresholds.{key} = "{laxer}"\nthresholds.lag = "31d"\n{PROBE}')
    assert "met only as asked" in told["pile p1", True]


@pytest.mark.parametrize(
    ("text", "ok", "said"),
    [
        (None, True, "is not there yet"),
        ("day,high\n2999-01-01,97\n", False, "f.csv, line 2: 2999-01-01 is more than 10 days ahead"),
        ("high\n97\n", False, "f.csv cannot be read (it is neither CSV with the header day,high,low nor a JSON list)"),
        ("day,high\n2000-01-01,97\n", True, "0 days to come in f.csv"),
    ],
)
def test_the_file_of_forecasts_is_read(tmp_path, text, ok, said):
    configuration = load_text('[bins.b1]\n[evening]\nfile = "f.csv"\n', tmp_path / "heaptender.toml", {}, rules=set())
    if text is not None:
        (tmp_path / "f.csv").write_text(text)
    (found,) = [one for one in settings_checks(configuration, 1_793_577_600_000) if one.what == "forecast"]
    assert found.ok is ok
    assert said in found.words
