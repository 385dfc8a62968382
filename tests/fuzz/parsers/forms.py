"""Web forms: the body of a request in both encodings, and what each form's fields mean; line 1 is the kind of body, line 2
its address."""

import asyncio
import json
from zoneinfo import ZoneInfo

from starlette.datastructures import Headers

from monitor.configuration import canonical_settings, load_text
from monitor.model.errors import MisuseError
from monitor.model.event_shapes import wrong_request
from monitor.model.times import parse_time
from monitor.model.work import Work, WorkKind
from monitor.page.forms.mend_form import mend_changes
from monitor.page.forms.put_offs import put_off_until
from monitor.page.forms.reading_form import reading_wish
from monitor.page.forms.round_form import sheet_lines
from monitor.page.forms.work_form import work_wish
from monitor.page.mending_ports import LoggedEntry
from monitor.page.places.page_times import from_text, in_full
from monitor.page.visitors.form_reading import BODY_MOST, FIELDS_MOST, read_form
from monitor.page.visitors.sessions import tidy_name
from tests.fuzz.contract import Parser, all_allowed, parts, text_of

NOW = parse_time("2026-07-20T12:00:00Z")
TOML = """
[site]
time_zone = "America/New_York"
temperature_unit = "degF"
[piles.p1]
name = "Bay 1"
rule = "us-112-54-turned"
built = 2026-07-17T12:00:00Z
[piles.p2]
spots = ["west", "middle", "east"]
[bins.b1]
name = "Sunny wall bin"
[probes.p1-a]
place = "p1"
[probes.b1-t]
place = "b1"
[contacts.ann]
name = "Ann"
"""
CONFIGURATION = load_text(TOML, None, {})
SETTINGS = CONFIGURATION.settings
ZONE = ZoneInfo(SETTINGS.site.time_zone)
SETTINGS_PLAIN = json.loads(canonical_settings(SETTINGS))
_LOOP = asyncio.new_event_loop()
_WORK = tuple(
    Work(time=NOW - 3_600_000, place=place, kind=kind, by="Ann", amount=amount, measure="kg" if amount else "")
    for place, kind, amount in (
        ("p1", WorkKind.BUILT, "3"),
        ("b1", WorkKind.FED, "2"),
        ("b1", WorkKind.INSPECTED, ""),
        ("p1", WorkKind.MOVED, ""),
        ("yard", WorkKind.DELIVERY, "1"),
        ("yard", WorkKind.AWAY, ""),
        ("p1", WorkKind.PROBE_IN, ""),
    )
)


def received(body, size=512):
    """Return the pieces in which a server hands a body on."""
    pieces = [body[at : at + size] for at in range(0, len(body), size)] or [b""]

    async def receive():
        return {"type": "http.request", "body": pieces.pop(0), "more_body": bool(pieces)}

    return receive


def _shown(at):
    if at is not None:
        in_full(at, ZONE)


def read(data):
    """Read a body, and take its fields for each form there is."""
    kind, path, body = parts(data, 3)
    headers = Headers({"content-type": kind.decode("latin-1")})
    form = _LOOP.run_until_complete(read_form(headers, received(body), text_of(path)))
    if form is None:
        return
    assert len(form.fields) <= FIELDS_MOST
    assert sum(map(len, form.fields.values())) <= BODY_MOST
    fields = form.fields
    place = fields.get("place", "p1")[:20]

    def wished(wish):
        payload = json.loads(json.dumps(wish.payload))
        assert wrong_request(wish.kind, payload) == "", (wish, wrong_request(wish.kind, payload))
        assert isinstance(wish.words, str)

    def mended(work):
        entry = LoggedEntry(number=1, entered=NOW, time=work.time, place=work.place, words="x", by="Ann", work=work)
        told, at = mend_changes(SETTINGS, entry, fields, tidy_name(fields.get("by", "")), NOW)
        assert all(isinstance(one, str) for one in told.values())
        assert at is None or at <= NOW

    all_allowed(
        (MisuseError,),
        lambda: wished(work_wish(SETTINGS, place, fields, "Ann", NOW)),
        *(lambda one=one: wished(reading_wish(SETTINGS, one, fields, "Ann", NOW)) for one in ("p1", "p2")),
        lambda: sheet_lines(SETTINGS, fields, "Ann", NOW),
        *(lambda work=work: mended(work) for work in _WORK),
        lambda: put_off_until(fields.get("until", ""), SETTINGS, NOW),
        lambda: _shown(from_text(fields.get("at", ""), ZONE)),
    )


_PLAIN = b"application/x-www-form-urlencoded\n/do/work\n"
PARSER = Parser(
    read,
    seeds=(
        _PLAIN + b"kind=built&amount=3&measure=kg&when=2026-07-19T14:05&note=two%0D%0Alines&entry=abcdefgh&place=p1",
        _PLAIN + b"kind=fed&place=b1&amount=2,5+lb&what=peels&risk_wormer=on&photo=&until=2h&at=1784462400000",
        _PLAIN + b"kind=forecast&high=97&low=71&day=2026-07-21&place=yard",
        _PLAIN + b"kind=away&contact=ann&start=2026-07-20T08:00&end=2026-07-22T08:00&place=yard",
        _PLAIN + b"kind=inspected&worms=plenty&smell=sour&squeeze=4&moisture=70&depth=12+in&place=b1",
        _PLAIN
        + b"value_1=131&value_2=55,5+C&value=140&value:p1:=141&time:p1:=14:05&by:p1:=Bo&squeeze:b1:=5&until=2026-07-21T09:00&with=d",
        b'multipart/form-data; boundary=x\n/do/work\n--x\r\nContent-Disposition: form-data; name="kind"\r\n\r\nnote\r\n--x\r\n'
        b'Content-Disposition: form-data; name="photo_file"; filename="a.jpg"\r\nContent-Type: image/jpeg\r\n\r\n\xff\xd8\xff\r\n--x--\r\n',
    ),
    words=(
        b"application/x-www-form-urlencoded\n",
        b"multipart/form-data; boundary=",
        b"/do/mend\n",
        b'Content-Disposition: form-data; name="',
        b'; filename="',
        b"\r\n\r\n",
        b"\r\n--x",
        b"charset=",
        b"&kind=",
        b"turned",
        b"moved",
        b"screened",
        b"sampled",
        b"harvested",
        b"delivery",
        b"&parts=",
        b"&fines=",
        b"&overs=",
        b"&when=",
        b"0001-01-01T00:00",
        b"9999-12-31T23:59",
        b"&to=p2",
        b"&probe=p1-a",
        b"&time:p1:=",
        b"&value:p1:=",
        b"%00",
        b"%ed%a0%80",
        b"+",
    ),
)
