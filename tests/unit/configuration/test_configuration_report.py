"""`[report]`: the yard's own factor for methane, with its source or not at all."""

import pytest

from monitor.configuration import load_text
from monitor.model.errors import ConfigurationError
from monitor.model.methane import MethaneFactor


def loaded(text):
    return load_text(text, None, {})


def test_no_factor_unless_the_yard_has_one():
    assert loaded("").methane is None


def test_a_factor_with_its_source():
    text = '[report]\nmethane_factor = 0.04\nmethane_source = " our county\'s table 3 "\n'
    assert loaded(text).methane == MethaneFactor(0.04, "our county's table 3")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("methane_factor = 0.04", "methane_factor.*nobody can tell where this figure comes from"),
        ('methane_factor = 0.04\nmethane_source = "  "', "methane_factor.*nobody can tell"),
        ('methane_source = "a table"', "methane_source.*it is the source of no figure"),
        ('methane_factor = 0\nmethane_source = "a"', "methane_factor"),
        ('methane_factor = -1\nmethane_source = "a"', "methane_factor"),
        ('methane_factor = 1.01\nmethane_source = "a"', "methane_factor"),
        ('methane_factor = nan\nmethane_source = "a"', "methane_factor"),
        ('methane_factor = "much"\nmethane_source = "a"', "methane_factor"),
        ("methane = 0.04", "methane"),
    ],
)
def test_what_cannot_be_is_refused(text, said):
    with pytest.raises(ConfigurationError, match=f"(?s){said}"):
        loaded(f"[report]\n{text}\n")


def test_the_greatest_factor_that_can_be():
    assert loaded('[report]\nmethane_factor = 1\nmethane_source = "a"\n').methane == MethaneFactor(1.0, "a")
