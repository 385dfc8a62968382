"""Exceptions of sockets and TLS become one of our faults, whose sentence never repeats what they said."""

import errno
import socket
import ssl

import pytest

from monitor.model.connection_faults import Fault, Where, fault_of, sentence

WHERE = Where("the broker", "shed.example", "shed.example:8883", "name its authority", "set tls", "user and password")


def verification(code):
    fault = ssl.SSLCertVerificationError(1, "hunter2")
    fault.verify_code = code
    return fault


@pytest.mark.parametrize(
    ("fault", "found"),
    [
        (socket.gaierror(-2, "Name or service not known"), Fault.NAME),
        (ConnectionRefusedError(errno.ECONNREFUSED, "hunter2"), Fault.NOBODY),
        (OSError(errno.ENETUNREACH, "hunter2"), Fault.NO_WAY),
        (OSError(errno.EHOSTUNREACH, "hunter2"), Fault.NO_WAY),
        (TimeoutError("hunter2"), Fault.SILENT),
        (ConnectionResetError(errno.ECONNRESET, "hunter2"), Fault.BROKE_OFF),
        (verification(20), Fault.UNKNOWN_CERTIFICATE),
        (verification(18), Fault.UNKNOWN_CERTIFICATE),
        (verification(62), Fault.WRONG_NAME),
        (verification(64), Fault.WRONG_NAME),
        (verification(10), Fault.EXPIRED),
        (ssl.SSLError(1, "[SSL: WRONG_VERSION_NUMBER] wrong version number"), Fault.NO_TLS),
        (
            ssl.SSLError(1, "[SSL: TLSV13_ALERT_CERTIFICATE_REQUIRED] tlsv13 alert certificate required"),
            Fault.OUR_CERTIFICATE,
        ),
        (ValueError("hunter2"), None),
    ],
)
def test_each_exception_has_its_fault(fault, found):
    assert fault_of(fault) is found
    if found is not None:
        assert "hunter2" not in sentence(found, WHERE)


@pytest.mark.parametrize("fault", list(Fault))
def test_each_fault_says_what_is_wrong_and_what_to_do(fault):
    said = sentence(fault, WHERE)
    assert "; " in said
    assert not said.endswith(".")
    assert "shed.example" in said
    bare = sentence(fault, WHERE._replace(host="", address=""))
    assert "shed.example" not in bare
