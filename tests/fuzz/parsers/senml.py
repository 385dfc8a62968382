"""SenML packs: the short way for the commonest pack and the careful way agree, and nothing in a result is beyond its bounds."""

from monitor.codec import decode_senml
from monitor.codec.decoded import LIMIT_REJECTS, is_word
from tests.fuzz.contract import Parser

NOW = 1_784_500_000_000


def bounded(found):
    """See that a decoder's result keeps its promises, and return it."""
    assert len(found.rejects) <= LIMIT_REJECTS
    for reject in found.rejects:
        assert reject.detail.isprintable(), reject
        assert reject.excerpt.isprintable(), reject
        assert len(reject.detail) < 800, reject
        assert len(reject.excerpt) <= 81, reject
    for heard in found.heard:
        assert is_word(heard.address), heard
        assert type(heard.micro) is int
        assert abs(heard.micro) < 1 << 62, heard
        assert heard.time is None or type(heard.time) is int, heard
    return found


def read(data):
    """Decode a pack fresh and stale, and with a blank behind it, which forbids the short way."""
    for stale in (False, True):
        found = bounded(decode_senml(data, NOW, stale))
        careful = bounded(decode_senml(data + b" ", NOW, stale))
        assert found.heard == careful.heard
        assert found.untimed == careful.untimed
        assert [one.reason for one in found.rejects] == [one.reason for one in careful.rejects]
        assert not (stale and found.untimed)


PARSER = Parser(
    read,
    seeds=(
        b'[{"n":"p1-a","u":"Cel","v":54.5}]',
        b'[{"bn":"node1/","bt":1784500000,"bu":"Cel","bver":10},{"n":"a","v":55},{"n":"b","u":"%RH","v":60,"t":-5}]',
        b'[{"n":"a","vs":"x"},{"n":"b","vb":true},{"bv":1e3,"n":"c","v":1,"u":"Far"},{"x_":1}]',
        b'[{"n":"p","u":"Cel","v":1e400},{"n":"p","u":"K","v":300.15,"t":1784500000.25},{"n":"p","n":"q","v":1}]',
    ),
    words=(
        b'"bn":',
        b'"bt":',
        b'"bu":',
        b'"bv":',
        b'"bver":',
        b'"n":',
        b'"u":"Cel"',
        b'"u":"K"',
        b'"u":"%RH"',
        b'"v":',
        b'"t":',
        b'"vs":',
        b'"ut":',
        b'"b_":',
        b"1e308",
        b"-1e-7",
        b"NaN",
        b"Infinity",
        b"\\ud800",
        b"268435456",
    ),
)
