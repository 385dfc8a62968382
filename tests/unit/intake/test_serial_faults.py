"""Why a serial port cannot be had, in words that say what to do."""

import errno
import os

import pytest
import serial

from monitor.intake.serial_faults import why_lost, why_not_open


def fault_of(path):
    with pytest.raises(serial.SerialException) as raised:
        serial.serial_for_url(str(path))
    return raised.value


def test_a_port_that_is_not_there_is_told_without_the_librarys_words(tmp_path):
    gone = tmp_path / "ttyUSB0"
    told = why_not_open(str(gone), fault_of(gone))
    assert told == f"{gone} is not there; is its cable in, and does the device still have this name?"


def test_a_folder_and_a_file_are_no_ports(tmp_path):
    (tmp_path / "file").write_text("")
    for path in (tmp_path, tmp_path / "file"):
        told = why_not_open(str(path), fault_of(path))
        assert told.startswith(str(path))
        assert "Errno" not in told


@pytest.mark.parametrize(
    ("number", "said"),
    [(errno.EACCES, "let it into the group"), (errno.EBUSY, "is held by another program"), (errno.EIO, "Input/output")],
)
def test_who_may_not_and_who_holds_it(number, said):
    fault = serial.SerialException(number, os.strerror(number))
    assert said in why_not_open("/dev/ttyUSB0", fault)


def test_a_cable_that_was_pulled_out():
    leader, follower = os.openpty()
    port = serial.Serial(os.ttyname(follower), timeout=1)
    os.close(leader)
    os.close(follower)
    with pytest.raises(serial.SerialException) as raised:
        port.read(1)
    port.close()
    assert why_lost("/dev/ttyUSB0", raised.value) == (
        "/dev/ttyUSB0 is gone; was the cable pulled out, or does another program read the port too?"
    )
    assert why_lost("/dev/ttyUSB0", TypeError("a\nb")) == "/dev/ttyUSB0 is gone: a b"


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        (TypeError(), "TypeError"),
        (ValueError(" \n "), "ValueError"),
        (ValueError("a  b\n c"), "a b c"),
        (ValueError("x" * 161), "x" * 160),
    ],
)
def test_a_fault_of_no_known_kind_is_told_in_one_short_line_or_by_its_name(fault, words):
    assert why_not_open("shed", fault) == f"shed cannot be opened: {words}"
    assert why_lost("shed", fault) == f"shed is gone: {words}"


def test_an_open_port_that_fails_in_another_way_says_how():
    assert (
        why_lost("shed", OSError(errno.EPERM, "Operation not permitted"))
        == "shed is gone: [Errno 1] Operation not permitted"
    )
    assert "was the cable pulled out" in why_lost("shed", OSError(errno.EIO, "Input/output error"))
