"""Answers of a mirror's server to the daily count: lines of JSON, or CSV; whatever comes, it is counts or `Unreadable`."""

import sys

from monitor.mirror.check import ExportReader, FluxReader, Unreadable
from tests.fuzz.contract import Parser, all_allowed

CHECK = sys.modules[ExportReader.__module__]
READERS = (ExportReader("http://h"), FluxReader("http://h", org="o", bucket="b", token=None))


def read(data):
    """Have each reader count in the same answer."""
    before, CHECK._fetch = CHECK._fetch, lambda _request, _timeout_s: data
    try:
        for reader in READERS:

            def counted(reader=reader):
                found = reader.counts(0, 3_600_000)
                assert all(isinstance(probe, str) and isinstance(count, int) for probe, count in found.items())

            all_allowed((Unreadable,), counted)
    finally:
        CHECK._fetch = before


PARSER = Parser(
    read,
    seeds=(
        b'{"metric":{"probe":"p1-a"},"values":[1,2],"timestamps":[5,7]}\n{"metric":{"probe":"b"},"timestamps":[3600000]}\n',
        b"#datatype,string,long\r\n,result,table,probe,_value\r\n,,0,p1-a,60\r\n,,1,b1-t,59\r\n\r\n",
        b',error,reference\r\n,"bad query",897\r\n',
    ),
    words=(b'"metric":', b'"probe":', b'"timestamps":[', b"_value", b"probe", b"\r\n", b"\x00", b'"', b"NaN", b"1e999"),
)
