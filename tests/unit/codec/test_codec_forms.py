"""Every declared payload form is read by a decoder that never raises."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.codec import LIMIT_BYTES, Decoded, decoder_of
from monitor.codec.forms import DECODERS
from monitor.model.connections import Subscription
from monitor.model.payload_forms import JSON, NUMBER, PAYLOAD_FORMS, SENML

RECEIVED = 1_790_000_000_000
EVERY = pytest.mark.parametrize("form", PAYLOAD_FORMS.values(), ids=PAYLOAD_FORMS)


def subscribed(form):
    return Subscription(topic="nodes/{probe}", form=form.word, value="/v" if form.pointers else None, unit="Cel")


def test_each_has_one():
    assert set(DECODERS) == set(PAYLOAD_FORMS)


@EVERY
@given(payload=st.binary(max_size=60) | st.text(max_size=60).map(str.encode), stale=st.booleans())
def test_it_never_raises(form, payload, stale):
    decoded = decoder_of(subscribed(form), "p1-a", "temperature", LIMIT_BYTES)(payload, RECEIVED, stale)
    assert isinstance(decoded, Decoded)


@pytest.mark.parametrize(
    ("form", "payload"),
    [(SENML, b'[{"n":"p1-a","u":"Cel","v":55.5}]'), (NUMBER, b"55.5"), (JSON, b'{"v": 55.5}')],
    ids=lambda one: getattr(one, "word", ""),
)
def test_it_reads_its_own_payloads_and_no_others(form, payload):
    for other in PAYLOAD_FORMS.values():
        heard = decoder_of(subscribed(other), "p1-a", "temperature", LIMIT_BYTES)(payload, RECEIVED, False).heard
        assert bool(heard) is (other is form)
        assert all((one.address, one.micro) == ("p1-a", 55_500_000) for one in heard)


@EVERY
def test_a_payload_that_names_no_probe_needs_a_topic_that_does(form):
    if not form.names_probes:
        with pytest.raises(ValueError, match="needs"):
            Subscription(topic="nodes/+", form=form.word, value="/v" if form.pointers else None)
