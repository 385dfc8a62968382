"""How long the page's password and the token for figures must be."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from monitor.app.command import heaptender
from monitor.configuration import Page, load_text
from monitor.model.errors import ConfigurationError, MisuseError


def loaded(key: str, secret: str) -> Page:
    text = f'[site]\nname = "Tern Hollow"\n[page]\n{key} = "{secret}"\n'
    return load_text(text, Path("heaptender.toml"), {}, rules=set()).page


@pytest.mark.parametrize("length", [12, 64, 128])
def test_a_password_has_12_to_128_characters(length: int) -> None:
    # OWASP ASVS 4.0.3, 2.1.1 and 2.1.2, from memory: at least 12, at least 64 allowed, no more than 128
    password = loaded("password", "ä" * length).password
    assert password is not None
    assert password.get_secret_value() == "ä" * length


@pytest.mark.parametrize(
    ("length", "said"), [(1, "has 1 character;"), (11, "has 11 characters;"), (129, "has 129 char")]
)
def test_any_other_password_is_refused_and_not_shown(length: int, said: str) -> None:
    with pytest.raises(ConfigurationError) as caught:
        loaded("password", "ä" * length)
    told = "\n".join(str(one) for one in caught.value.problems)
    assert said in told
    assert "take 12 to 128, such as four words in a row" in told
    assert "ää" not in told


@pytest.mark.parametrize(("length", "refused"), [(11, True), (12, False), (128, False), (129, True)])
def test_no_hash_is_made_of_another_password_either(
    length: int, refused: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("getpass.getpass", lambda _: ("Otter, 3 violins " * 8)[:length])
    done = CliRunner().invoke(heaptender, ["password"])
    assert (isinstance(done.exception, MisuseError), done.stdout.startswith("scrypt$")) == (refused, not refused)


def test_a_token_for_figures_has_20_characters() -> None:
    token = loaded("metrics_token", "x" * 20).metrics_token
    assert token is not None
    assert token.get_secret_value() == "x" * 20
    with pytest.raises(ConfigurationError) as caught:
        loaded("metrics_token", "x" * 19)
    assert "shorter than 20 characters" in "\n".join(str(one) for one in caught.value.problems)
