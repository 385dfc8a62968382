"""Why a broker is not reached, refuses or ends a connection: the sentence, and whether somebody must act."""

import threading

import pytest

from monitor.intake import MqttConnection
from monitor.intake.broker_client import make_client
from monitor.intake.broker_faults import THROWN_OFF, ended, not_reached, refused
from monitor.model.connection_faults import Fault
from monitor.model.errors import UnavailableError

PLAIN = MqttConnection(host="broker.example", port=1884, client_id="shed")
TLS = MqttConnection(host="broker.example", port=8883, client_id="shed", tls=True)


@pytest.mark.parametrize(
    ("settings", "found", "lasts", "words"),
    [
        (PLAIN, None, False, "no connection to the broker at broker.example:1884"),
        (PLAIN, Fault.NOBODY, False, "broker.example:1884"),
        (PLAIN, Fault.SILENT, False, "broker.example:1884"),
        (PLAIN, Fault.BROKE_OFF, False, "broker.example:1884"),
        (PLAIN, Fault.NAME, True, "broker.example"),
        (TLS, Fault.EXPIRED, True, "broker.example"),
        (TLS, Fault.BROKE_OFF, True, "broker.example"),
    ],
)
def test_what_may_pass_by_itself_asks_nobody_to_act(settings, found, lasts, words):
    reason = not_reached(settings, found)
    assert reason.lasts is lasts
    assert words in reason.why


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("Not authorized", "(Not authorized)"),
        ("Bad user name or password", "(Bad user name or password)"),
        ("Server unavailable", "the broker refuses the connection: Server unavailable; its own log says more"),
    ],
)
def test_a_refusal_is_for_somebody_to_mend(said, words):
    assert refused(PLAIN, said).lasts
    assert words in refused(PLAIN, said).why


def test_who_is_thrown_off_again_and_again_shares_its_name():
    seldom = ended(PLAIN, "Unspecified error", answered=True, thrown_off=THROWN_OFF - 1)
    assert seldom == ("the connection to the broker at broker.example:1884 ended; it is tried again", False)
    often = ended(PLAIN, "Unspecified error", answered=True, thrown_off=THROWN_OFF)
    assert (often.lasts, 'another program seems to connect with the client_id "shed"' in often.why) == (True, True)
    taken = ended(PLAIN, "Session taken over", answered=True, thrown_off=0)
    assert (taken.lasts, "takes the connection over" in taken.why) == (True, True)
    assert "(Keep alive timeout)" in ended(PLAIN, "Keep alive timeout", answered=True, thrown_off=0).why


def test_a_broker_that_ends_before_it_answered_wants_something_else():
    plain, secure = (ended(one, "Unspecified error", answered=False, thrown_off=0) for one in (PLAIN, TLS))
    assert plain.lasts
    assert secure.lasts
    assert plain.why != secure.why


@pytest.mark.parametrize(("text", "words"), [(None, "No such file or directory"), ("no certificate", "[X509")])
def test_a_file_for_tls_that_is_none_is_named_with_why(tmp_path, text, words):
    file = tmp_path / "ca.pem"
    if text is not None:
        file.write_text(text)
    settings = MqttConnection(host="broker.example", port=8883, tls=True, ca_file=str(file))
    with pytest.raises(UnavailableError, match="TLS cannot be set up from ") as told:
        make_client(settings, threading.Event(), print)
    assert f"{file}: {words}" in str(told.value)
