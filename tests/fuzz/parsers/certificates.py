"""Certificates: whatever a file holds, the answer is a value with sentences. The first byte says which part of it is the input.

`p`: the whole file. `k`: the yard's public key. `c`: the signature's CMS, in a document that it covers. `r`: the attached
record, then a NUL and the readings as CSV, within a document that is what its signature says (the structure of the PDF
itself, a matter of pyHanko, is stood for).
"""

import contextlib
import json
from hashlib import sha256

import certificate_scenes as scenes

from monitor.certificate import verify
from monitor.certificate.checking.container import Attached
from monitor.certificate.checking.remaking import work_again
from monitor.certificate.record import certificate_id
from monitor.certificate.record.attached_rows import gather_rows, pack
from monitor.certificate.record.statement import canonical
from monitor.certificate.signature import check_seal, parse_public_key
from monitor.certificate.signature.keys import CERTIFICATE_FILE
from monitor.certificate.signature.signing import RESERVED_HEX
from monitor.model.errors import MisuseError
from tests.fuzz.contract import Parser, room


def _whole(data):
    found = verify(data, scenes.CSV, name_changes=True)
    assert not found.ok
    assert all(one.endswith((".", ")")) for one in (*found.faults, *found.sentences)), found


def _signed(cms):
    digits = cms.hex().upper().encode()[:RESERVED_HEX].ljust(RESERVED_HEX, b"0")
    head = b"%%PDF-1.7\n/ByteRange [0 000060 0%06d 000004]" % (60 + RESERVED_HEX + 2)
    pdf = head.ljust(60) + b"<" + digits + b">" + b"end\n"
    with contextlib.suppress(MisuseError):
        check_seal(pdf)
        raise AssertionError("a signature that nobody made holds")


def _record(data):
    record, _, rows = data.partition(b"\0")
    readings = pack(rows)
    with contextlib.suppress(ValueError, TypeError, RecursionError, KeyError):
        # Hash and number are put right: nothing behind them would be reached by chance.
        tree = json.loads(record)
        tree["readings"]["sha256"] = sha256(readings).hexdigest()
        tree["id"] = certificate_id(tree)
        record = canonical(tree)
    work_again(Attached(record=record, readings=readings), scenes.CSV)


READ = {b"p": _whole, b"c": _signed, b"r": _record, b"k": parse_public_key}


def read(data):
    """Check the part of a certificate that an input is."""
    if data[:1] in READ:
        READ[data[:1]](data[1:])


def larger_seeds():
    """Yield the parts of a real certificate; making one takes a second or two."""
    keys = room() / "keys"
    made = scenes.certificate(keys, scenes.small())
    attached = scenes.opened(made)
    start, end = scenes.place(made)
    cms = bytes.fromhex(made[start + 1 : end - 1].decode())
    rows = scenes.CSV.write(gather_rows(scenes.small().probes)).splitlines(keepends=True)
    size = 4 + int.from_bytes(cms[2:4], "big")
    yield b"c" + cms[:size]
    yield b"r" + attached.record + b"\0" + b"".join(rows[:60])
    yield b"k" + (keys / CERTIFICATE_FILE).read_bytes()


PARSER = Parser(
    read,
    allowed=(MisuseError,),
    seeds=(
        b"p%PDF-1.7\n/ByteRange [0 10 8204 12]",
        b"k-----BEGIN PUBLIC KEY-----\nMFkw\n-----END PUBLIC KEY-----\n",
        b"c\x30\x82\x00\x04\x02\x00\x05\x00",
    ),
    words=(
        b"/ByteRange [0 ",
        b"%PDF-",
        b"%%EOF",
        b"-----BEGIN CERTIFICATE-----\n",
        b"-----BEGIN PUBLIC KEY-----\n",
        b'"null"',
        b"null",
        b"1e999",
        b'":',
        b"[]",
        b"{}",
    ),
    longest=20_000,
    seconds=30,
    kept=30_000,
)
