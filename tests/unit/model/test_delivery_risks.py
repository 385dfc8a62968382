"""The risks of a delivery: few words, in any order and however separated, and nothing else."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.delivery_risks import NO_RISK, RISKS, delivery_risks, risks_of, risks_said
from monitor.model.errors import MisuseError
from monitor.model.settings import Settings
from monitor.model.work import WorkKind
from monitor.model.work_entry import work_fields

REAL = [risk for risk in RISKS if risk != NO_RISK]


@given(st.lists(st.sampled_from(REAL), min_size=1), st.sampled_from([",", ", ", " ", " and ", "; ", " + "]))
def test_the_order_and_the_marks_between_the_words_do_not_matter(words, between):
    kept = delivery_risks(between.join(words).upper())
    assert kept == ",".join(risk for risk in RISKS if risk in words)
    assert delivery_risks(kept) == kept
    assert list(risks_of(kept)) == kept.split(",")


@pytest.mark.parametrize(
    ("text", "kept", "said"),
    [
        ("", "", ""),
        (" , ", "", ""),
        ("None", "none", "no risk found"),
        ("plastics", "plastic", "risk of plastic"),
        ("meat, wormers and herbicide", "herbicide,wormer,meat", "risk of herbicide, wormer and meat"),
    ],
)
def test_risks_are_kept_and_said(text, kept, said):
    assert delivery_risks(text) == kept
    assert risks_said(kept) == said
    assert (NO_RISK in risks_of(kept), bool(risks_of(kept))) == (False, said.startswith("risk"))


@pytest.mark.parametrize(
    ("text", "says"),
    [("rats", '"rats" is no risk of a delivery; it is herbicide, wormer, meat, plastic or none'),
     ("meat none", '"none" does not go with meat')],
)  # fmt: skip
def test_other_words_are_refused_by_every_door(text, says):
    with pytest.raises(ValueError, match=says):
        delivery_risks(text)
    with pytest.raises(MisuseError, match=says):
        work_fields(Settings(), WorkKind.DELIVERY, {"what": "leaves", "amount": "2 t", "risk": text})


def test_a_delivery_means_nothing_without_its_material_and_amount():
    with pytest.raises(MisuseError, match="Delivered of what"):
        work_fields(Settings(), WorkKind.DELIVERY, {"amount": "2 t"})
    with pytest.raises(MisuseError, match=r"Counted how much.*20 kg"):
        work_fields(Settings(), WorkKind.COUNTED, {"what": "leaves"})
    assert work_fields(Settings(), WorkKind.DELIVERY, {"risk": "meat"}, whole=False) == {"risk": "meat"}
