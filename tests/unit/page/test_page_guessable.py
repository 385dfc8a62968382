"""Passwords that a guesser tries first, and those that last."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.page.visitors.guessable import LEAST_GUESSES, guess_trouble, guesses
from monitor.page.visitors.tries import ALL_TRIES, FORGET_S


@pytest.mark.parametrize(
    "password",
    [
        "password1234", "P@ssw0rd1234", "123456789012", "qwertyuiop12", "aaaaaaaaaaaa", "abcabcabcabc", "heaptender12",
        "Heaptender2026", "Tern Hollow 2026", "ternhollow26", "compostcompost", "iloveyou1234", "letmeinletmein",
    ],
)  # fmt: skip
def test_what_anybody_would_try_is_told(password):
    told = guess_trouble(password, ["Tern Hollow"])
    assert told.startswith("it is among the first 1")
    assert password not in told


@pytest.mark.parametrize(
    "password",
    ["three barrows of leaves", "a dozen letters", "x9$Kq!0pLm2v", "žluťoučký kůň  🐎", "mulch otter violin 7"],
)
def test_what_lasts_is_taken(password):
    assert guess_trouble(password, ["Tern Hollow"]) == ""


def test_a_name_that_all_know_is_no_secret_and_a_strange_one_is():
    assert guesses("quillfeather 26") > LEAST_GUESSES > guesses("quillfeather 26", ["Quillfeather"])


def test_the_least_lasts_longer_than_the_yard():
    a_year = 365 * 24 * 3600 / FORGET_S * ALL_TRIES
    assert 190 <= LEAST_GUESSES / a_year < 191


@given(st.text(min_size=12, max_size=128), st.lists(st.text(max_size=20), max_size=3))
def test_any_password_has_an_answer(password, known):
    told = guess_trouble(password, known)
    assert told == "" or told.startswith("it is among the first 1")
