"""A yard's own rules: loaded beside the configuration, part of the settings only where a pile goes by them."""

from pathlib import Path

import pytest

from monitor.configuration import canonical_settings, load, settings_of
from monitor.configuration.config_problems import UnfitError
from monitor.configuration.quantities import day_ms
from monitor.model.settings import Settings
from monitor.model.times import parse_time

TEXT = (Path(__file__).parent / "broken" / "rule-files" / "our-county.toml").read_text(encoding="utf-8")


@pytest.fixture
def loaded(tmp_path):
    (tmp_path / "rules").mkdir()
    (tmp_path / "rules" / "our-county.toml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "rules" / "our-town.toml").write_text(TEXT, encoding="utf-8")
    (tmp_path / "rules" / "readme.txt").write_text("not a rule", encoding="utf-8")

    def made(text):
        (tmp_path / "heaptender.toml").write_text(text, encoding="utf-8")
        return load(tmp_path / "heaptender.toml", {}, rules=["us-112-54-turned"])

    return made


@pytest.mark.parametrize("files", ['["rules"]', '["rules/our-county.toml", "rules/our-town.toml"]'])
def test_only_the_text_of_a_rule_that_a_pile_names_becomes_a_setting(loaded, files):
    configuration = loaded(f'[piles.p1]\nrule = "our-county"\n[rules]\nfiles = {files}\n')
    assert sorted(configuration.site_rules) == ["our-county", "our-town"]
    assert configuration.settings.rules == {"our-county": TEXT}
    assert settings_of(canonical_settings(configuration.settings)) == configuration.settings


def test_without_rules_of_its_own_the_settings_are_what_they_were(loaded):
    configuration = loaded('[piles.p1]\nrule = "us-112-54-turned"\n[rules]\nfiles = ["rules"]\n')
    text = canonical_settings(configuration.settings)
    assert '"rules"' not in text
    assert settings_of(text) == configuration.settings
    assert '"rules"' not in canonical_settings(Settings())


def test_who_confirmed_what(loaded):
    configuration = loaded(
        '[rules.confirmed.us-112-54-turned]\nby = "Ann Example"\nat = 2026-05-01\nnote = "edition of 2026"\n'
    )
    found = configuration.confirmed["us-112-54-turned"]
    assert (found.by, found.at, found.note) == ("Ann Example", parse_time("2026-05-01T00:00:00Z"), "edition of 2026")


@pytest.mark.parametrize("value", ["2026-13-01", "yesterday", 20260501, None, "2026-05-1x", ""])
def test_a_day_is_a_day(value):
    with pytest.raises(UnfitError):
        day_ms(value)
