"""SenML packs. Vectors: RFC 8428 sections 5.1.1 to 5.1.8 (standards page 8.9), quoted as data."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.codec import LIMIT_BYTES, decode_senml, senml
from monitor.codec.decoded import LIMIT_REJECTS
from monitor.codec.documents import depth_of
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard

RECEIVED = 1_795_600_000_000
OW = "urn:dev:ow:10e2073a01080063"


def heard(text, received=RECEIVED):
    decoded = decode_senml(text.encode(), received)
    assert decoded.rejects == ()
    return decoded.heard


def reasons(payload, **more):
    return [reject.reason for reject in decode_senml(payload, RECEIVED, **more).rejects]


def test_rfc_5_1_1_single_point():
    decoded = decode_senml(b'[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]', RECEIVED)
    assert decoded == ((Heard(OW, "temperature", 23_100_000, "Cel", None),), (), True)


def test_rfc_5_1_2_two_points_now():
    pack = '[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]'
    assert heard(pack) == (
        Heard(OW + ":voltage", "battery", 120_100_000, "V", None),
        Heard(OW + ":current", None, 1_200_000, "A", None),
    )


def test_rfc_5_1_2_several_times_and_another_version():
    name = "urn:dev:ow:10e2073a0108006:"
    pack = (
        '[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},'
        '{"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},{"n":"current","t":-3,"v":1.4},'
        '{"n":"current","t":-2,"v":1.5},{"n":"current","t":-1,"v":1.6},{"n":"current","v":1.7}]'
    )
    base = 1_276_020_076_001
    assert heard(pack) == (
        Heard(name + "voltage", "battery", 120_100_000, "V", base),
        *(Heard(name + "current", None, 1_200_000 + 100_000 * k, "A", base - 5000 + 1000 * k) for k in range(6)),
    )


def test_rfc_5_1_3_stream_of_humidity():
    values = [21.2, 21.3, 21.4, 21.4, 21.5, 21.5, 21.5, 21.6, 21.7]
    records = [{"bn": OW, "bt": 1.320067464e09, "bu": "%RH", "v": 21.2}]
    records += [{"v": value, "t": 10 * (k + 1)} for k, value in enumerate(values[1:])]
    found = heard(json.dumps(records))
    assert [(h.time, h.micro, h.unit, h.quantity) for h in found] == [
        (1_320_067_464_000 + 10_000 * k, round(value * 1e6), "%RH", None) for k, value in enumerate(values)
    ]


def test_rfc_5_1_3_one_name_with_several_units():
    pack = (
        '[{"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},{"u":"lon","v":24.30621},'
        '{"u":"lat","v":60.07965},{"t":60,"v":20.3},{"u":"lon","t":60,"v":24.30622},{"u":"lat","t":60,"v":60.07965},'
        '{"t":120,"v":20.7},{"u":"lon","t":120,"v":24.30623},{"u":"lat","t":120,"v":60.07966},'
        '{"u":"%EL","t":150,"v":98},{"t":180,"v":21.2},{"u":"lon","t":180,"v":24.30628},{"u":"lat","t":180,"v":60.07967}]'
    )
    table = [
        (1320067464, "%RH", 20),
        (1320067464, "lon", 24.30621),
        (1320067464, "lat", 60.07965),
        (1320067524, "%RH", 20.3),
        (1320067524, "lon", 24.30622),
        (1320067524, "lat", 60.07965),
        (1320067584, "%RH", 20.7),
        (1320067584, "lon", 24.30623),
        (1320067584, "lat", 60.07966),
        (1320067614, "%EL", 98),
        (1320067644, "%RH", 21.2),
        (1320067644, "lon", 24.30628),
        (1320067644, "lat", 60.07967),
    ]
    assert heard(pack) == tuple(Heard(OW, None, round(v * 1e6), u, t * 1000) for t, u, v in table)


def test_rfc_5_1_5_texts_truths_and_data_are_no_readings():
    pack = (
        '[{"bn":"urn:dev:ow:10e2073a01080063:","n":"temp","u":"Cel","v":23.1},{"n":"label","vs":"Machine Room"},'
        '{"n":"open","vb":false},{"n":"nfv-reader","vd":"aGkgCg"}]'
    )
    assert heard(pack) == (Heard(OW + ":temp", "temperature", 23_100_000, "Cel", None),)


def test_rfc_5_1_6_base_name_replaced_midway():
    pack = (
        '[{"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},'
        '{"n":"humidity","u":"%RH","v":30},{"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},'
        '{"n":"humidity","u":"%RH","v":67}]'
    )
    assert [(h.address, h.micro, h.time) for h in heard(pack)] == [
        ("2001:db8::2/temperature", 25_200_000, 1_320_078_429_000),
        ("2001:db8::2/humidity", 30_000_000, 1_320_078_429_000),
        ("2001:db8::1/temperature", 12_300_000, 1_320_078_429_000),
        ("2001:db8::1/humidity", 67_000_000, 1_320_078_429_000),
    ]


def test_rfc_5_1_7_record_without_a_value_only_carries_bases():
    found = heard('[{"bn":"urn:dev:ow:10e2073a01080063:"},{"n":"temp","u":"Cel","v":20}]')
    assert found == (Heard(OW + ":temp", "temperature", 20_000_000, "Cel", None),)
    assert decode_senml(b'[{"bn":"urn:dev:ow:10e2073a01080063:"}]', RECEIVED) == ((), (), False)


def test_rfc_5_1_8_fraction_of_a_second():
    pack = '[{"bt":1.320078429e+09,"bu":"/","n":"2001:db8::3","v":0.5},{"n":"2001:db8::3","t":0.1,"v":0}]'
    assert heard(pack) == (
        Heard("2001:db8::3", None, 50_000_000, "%", 1_320_078_429_000),
        Heard("2001:db8::3", None, 0, "%", 1_320_078_429_100),
    )


@pytest.mark.parametrize(
    ("unit", "value", "expected"),
    [
        ("Cel", -3.25, ("temperature", -3_250_000, "Cel")),
        ("K", 300.65, ("temperature", 300_650_000, "K")),
        ("%", 0.5, (None, 50_000_000, "%")),
        ("/", 0.29, (None, 29_000_000, "%")),
        ("/100", 29, (None, 29_000_000, "%")),
        ("/1000", 290, (None, 29_000_000, "%")),
        ("%RH", 50, (None, 50_000_000, "%RH")),
        ("V", 3.3, ("battery", 3_300_000, "V")),
        ("mV", 3300, ("battery", 3_300_000_000, "mV")),
        ("dBm", -71, ("signal", -71_000_000, "dBm")),
        ("dBW", -101, ("signal", -71_000_000, "dBm")),
        ("count", 512, (None, 512_000_000, "1")),
    ],
)
@pytest.mark.parametrize("extra", ["", ',"color":"red"'], ids=["short way", "careful way"])
def test_units(unit, value, expected, extra):
    (one,) = heard(f'[{{"n":"a","u":"{unit}","v":{value}{extra}}}]')
    assert (one.quantity, one.micro, one.unit) == expected


def test_unit_left_out_is_left_open():
    assert heard('[{"n":"a","v":1.5}]') == (Heard("a", None, 1_500_000, None, None),)


@pytest.mark.parametrize("unit", ["degF", "[degF]", "1"])
def test_symbols_of_other_systems_are_refused(unit):
    assert reasons(json.dumps([{"n": "a", "u": unit, "v": 1}]).encode()) == [SetAside.WRONG_UNIT]


@pytest.mark.parametrize("extra", ["", ',"color":"red"'], ids=["short way", "careful way"])
@pytest.mark.parametrize(
    ("times", "expected", "untimed"),
    [
        ("", None, True),
        (',"t":0', None, True),
        (',"bt":0,"t":0', None, True),
        (',"t":-90.5', RECEIVED - 90_500, True),
        (',"t":268435455', RECEIVED + 268_435_455_000, True),
        (',"t":268435456', 268_435_456_000, False),
        (',"bt":1795600000,"t":-0.25', 1_795_599_999_750, False),
        (',"bt":268435457,"t":-2', RECEIVED + 268_435_455_000, True),
    ],
)
def test_times(times, expected, untimed, extra):
    decoded = decode_senml(f'[{{"n":"a","u":"Cel","v":1{times}{extra}}}]'.encode(), RECEIVED)
    assert [h.time for h in decoded.heard] == [expected]
    assert decoded.untimed is untimed


def test_stored_message_loses_only_what_counts_from_its_arrival():
    pack = b'[{"n":"a","u":"Cel","v":1,"t":1795600000},{"n":"b","u":"Cel","v":1,"t":-5},{"n":"c","u":"Cel","v":1}]'
    decoded = decode_senml(pack, RECEIVED, stale=True)
    assert [h.address for h in decoded.heard] == ["a"]
    assert [r.reason for r in decoded.rejects] == [SetAside.NO_TIME, SetAside.NO_TIME]
    assert reasons(b'[{"n":"a","u":"Cel","v":1}]', stale=True) == [SetAside.NO_TIME]
    assert len(decode_senml(b'[{"n":"a","u":"Cel","v":1,"t":1795600000}]', RECEIVED, stale=True).heard) == 1


BAD_RECORDS = [
    ("not an object", "17", SetAside.MALFORMED),
    ("name with a blank", '{"n":"a b","u":"Cel","v":1}', SetAside.MALFORMED),
    ("name that begins with a sign", '{"n":"-a","u":"Cel","v":1}', SetAside.MALFORMED),
    ("name beyond ASCII", '{"n":"kübel","u":"Cel","v":1}', SetAside.MALFORMED),
    ("name that is a number", '{"n":1,"u":"Cel","v":1}', SetAside.MALFORMED),
    ("no name", '{"u":"Cel","v":1}', SetAside.MALFORMED),
    ("unit that is a number", '{"n":"a","u":1,"v":1}', SetAside.MALFORMED),
    ("unit with a blank", '{"n":"a","u":"C l","v":1}', SetAside.MALFORMED),
    ("lone surrogate", '{"n":"a","u":"\\ud800","v":1}', SetAside.MALFORMED),
    ("text for a value", '{"n":"a","u":"Cel","v":"1"}', SetAside.NOT_A_NUMBER),
    ("truth for a value", '{"n":"a","u":"Cel","v":true}', SetAside.NOT_A_NUMBER),
    ("null for a value", '{"n":"a","u":"Cel","v":null}', SetAside.NOT_A_NUMBER),
    ("NaN", '{"n":"a","u":"Cel","v":NaN}', SetAside.NOT_A_NUMBER),
    ("Infinity", '{"n":"a","u":"Cel","v":-Infinity}', SetAside.NOT_A_NUMBER),
    ("beyond a double", '{"n":"a","u":"Cel","v":1e400}', SetAside.NOT_A_NUMBER),
    ("huge integer", '{"n":"a","u":"Cel","v":' + "9" * 5000 + "}", SetAside.NOT_A_NUMBER),
    ("large integer", '{"n":"a","u":"Cel","v":' + "9" * 400 + "}", SetAside.NOT_A_NUMBER),
    ("huge integer for a time", '{"n":"a","u":"Cel","v":1,"t":' + "9" * 400 + "}", SetAside.MALFORMED),
    ("time beyond the calendar", '{"n":"a","u":"Cel","v":1,"t":1e13}', SetAside.ABSURD_TIME),
    ("text for a time", '{"n":"a","u":"Cel","v":1,"t":"now"}', SetAside.MALFORMED),
    ("truth for a time", '{"n":"a","u":"Cel","v":1,"t":true}', SetAside.MALFORMED),
    ("two values", '{"n":"a","u":"Cel","v":1,"vs":"x"}', SetAside.MALFORMED),
    ("label twice", '{"n":"a","u":"Cel","v":1,"v":2}', SetAside.MALFORMED),
    ("label to be understood", '{"n":"a","u":"Cel","v":1,"odd_":2}', SetAside.MALFORMED),
]


@pytest.mark.parametrize(
    ("record", "reason"), [case[1:] for case in BAD_RECORDS], ids=[case[0] for case in BAD_RECORDS]
)
def test_bad_record_is_set_aside_alone(record, reason):
    good = '{"n":"b","u":"Cel","v":2,"t":1795600000}'
    for text in (f"[{record}]", f"[{good},{record},{good}]"):
        decoded = decode_senml(text.encode(), RECEIVED)
        assert [reject.reason for reject in decoded.rejects] == [reason]
        assert [h.address for h in decoded.heard] == ["b"] * text.count('"b"')
        assert all(r.excerpt.isprintable() and len(r.excerpt) <= 81 and r.detail for r in decoded.rejects)


WHOLE = [
    ("empty", b"", SetAside.MALFORMED),
    ("no array", b'{"n":"a","v":1}', SetAside.MALFORMED),
    ("no records", b"[]", SetAside.MALFORMED),
    ("cut off", b'[{"n":"a","u":"Cel","v":1', SetAside.MALFORMED),
    ("rest behind it", b'[{"n":"a","u":"Cel","v":1}]x', SetAside.MALFORMED),
    ("byte order mark", b'\xef\xbb\xbf[{"n":"a","u":"Cel","v":1}]', SetAside.MALFORMED),
    ("Latin-1", b'[{"n":"a","u":"\xb0C","v":1}]', SetAside.NOT_UTF8),
    ("UTF-16", '[{"n":"a","u":"Cel","v":1}]'.encode("utf-16"), SetAside.NOT_UTF8),
    ("oversized", b'[{"n":"a","u":"Cel","v":1}]' + b" " * LIMIT_BYTES, SetAside.OVERSIZED),
    ("deep arrays", b"[" * 60_000, SetAside.DEEPLY_NESTED),
    ("deep, closed", b'[{"n":"a","v":' + b"[" * 5000 + b"]" * 5000 + b"}]", SetAside.DEEPLY_NESTED),
    ("deep objects", b'{"a":' * 10_000, SetAside.DEEPLY_NESTED),
    ("newer version", b'[{"bver":11,"n":"a","u":"Cel","v":1}]', SetAside.MALFORMED),
    ("version in words", b'[{"bver":"10","n":"a","u":"Cel","v":1}]', SetAside.MALFORMED),
    ("two versions", b'[{"bver":5,"n":"a","u":"Cel","v":1},{"bver":6,"n":"a","u":"Cel","v":1}]', SetAside.MALFORMED),
]


@pytest.mark.parametrize(("payload", "reason"), [case[1:] for case in WHOLE], ids=[case[0] for case in WHOLE])
def test_unreadable_pack_is_set_aside_whole(payload, reason):
    decoded = decode_senml(payload, RECEIVED)
    assert decoded.heard == ()
    assert [reject.reason for reject in decoded.rejects] == [reason]


def test_default_version_may_be_said():
    assert len(heard('[{"bver":10,"n":"a","u":"Cel","v":1},{"n":"a","u":"Cel","v":1}]')) == 2


def test_bad_base_spoils_only_what_rests_on_it():
    pack = b'[{"bn":7,"n":"a","u":"Cel","v":1},{"n":"b","u":"Cel","v":2},{"bn":"x:","n":"c","u":"Cel","v":3}]'
    decoded = decode_senml(pack, RECEIVED)
    assert [h.address for h in decoded.heard] == ["x:c"]
    assert len(decoded.rejects) == 2
    pack = b'[{"bu":[],"n":"a","v":1},{"n":"b","u":"Cel","v":2}]'
    assert [h.address for h in decode_senml(pack, RECEIVED).heard] == ["b"]
    pack = b'[{"bt":1,"bt":1795600000,"n":"a","u":"Cel","v":1},{"n":"b","u":"Cel","v":2}]'
    assert decode_senml(pack, RECEIVED).heard == ()


def test_base_value_is_added():
    assert [h.micro for h in heard('[{"bv":20,"n":"a","u":"Cel","v":1.5},{"n":"a","u":"Cel","v":-1}]')] == [
        21_500_000,
        19_000_000,
    ]


def test_base_label_to_be_understood_ends_the_pack():
    pack = b'[{"n":"a","u":"Cel","v":1},{"bodd_":1,"n":"b","u":"Cel","v":1},{"n":"c","u":"Cel","v":1}]'
    decoded = decode_senml(pack, RECEIVED)
    assert [h.address for h in decoded.heard] == ["a"]
    assert len(decoded.rejects) == 2


def test_sum_without_a_value_is_no_reading():
    assert heard('[{"n":"a","u":"J","s":12}]') == ()


def test_number_of_rejects_is_bounded():
    decoded = decode_senml(b"[" + b",".join([b"1"] * 1000) + b"]", RECEIVED)
    assert len(decoded.rejects) == LIMIT_REJECTS
    assert decoded.rejects[-1].detail.endswith("and 980 more of this message")


def test_many_records_are_not_deep():
    pack = json.dumps([{"n": "a", "u": "Cel", "v": k, "x": "[[[{{{"} for k in range(300)])
    assert [h.micro for h in heard(pack)] == [k * 1_000_000 for k in range(300)]


@pytest.mark.parametrize(
    ("text", "deep"),
    [
        ("[[[[[]]]]]", 5),
        ('["[[[[",{"a":[]}]', 3),
        ('["\\"[[[["]', 1),
        ('["\\\\",[]]', 2),
        ('["[[[[[', 1),
        ('[{"a":{"b":{}}}]', 4),
    ],
)
def test_depth_counts_brackets_outside_texts(text, deep):
    many = ",[]" * 40  # so that the number of brackets alone does not settle it
    assert depth_of(f"[{text}{many}]", 30) == (deep + 1 if not text.endswith("[[[[[") else 2)
    assert depth_of(f"[{text}{many}]", deep) == deep + 1


SCALARS = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8)
LABELS = st.sampled_from(
    ["bn", "bt", "bu", "bv", "bver", "n", "u", "v", "vs", "t", "s", "odd", "odd_", "bodd_"]
) | st.text(max_size=4)
VALUES = SCALARS | st.sampled_from(["Cel", "%", "a", "1e5", 10, 1795600000, -5]) | st.lists(SCALARS, max_size=2)
PACKS = st.lists(st.dictionaries(LABELS, VALUES, max_size=6) | SCALARS, max_size=4)


@given(PACKS, st.booleans())
def test_never_raises_on_json(pack, stale):
    check(decode_senml(json.dumps(pack).encode(), RECEIVED, stale))


@given(st.binary(max_size=200))
def test_never_raises_on_bytes(payload):
    check(decode_senml(payload, RECEIVED))


@given(st.binary(max_size=30), st.integers(0, 60), st.integers(0, 60))
def test_never_raises_on_damage(noise, start, end):
    good = b'[{"n":"urn:dev:ow:1","u":"Cel","t":1795600000.25,"v":23.1}]'
    check(decode_senml(good[:start] + noise + good[end:], RECEIVED))


def check(decoded):
    for one in decoded.heard:
        assert type(one.micro) is int
        assert one.time is None or type(one.time) is int
        assert one.address.isascii()
        one.address.encode()
        assert one.unit is None or one.unit.isascii()
    for reject in decoded.rejects:
        assert isinstance(reject.reason, SetAside)
        assert reject.detail.isprintable()
        assert reject.excerpt.isprintable()


def gist(text, stale=False):
    decoded = decode_senml(text.encode(), RECEIVED, stale)
    return decoded.heard, [(reject.reason, reject.detail) for reject in decoded.rejects], decoded.untimed


@given(PACKS.filter(lambda pack: len(pack) == 1))
def test_short_way_and_careful_way_agree(pack):
    text = json.dumps(pack)
    assert gist(text) == gist(text + "\n")


@given(
    st.sampled_from(["Cel", "K", "/", "V", "dBW"]),
    st.floats(-1e6, 1e6),
    st.floats(-1e9, 3e9),
    st.booleans(),
    st.dictionaries(
        st.sampled_from(["bver", "note", "b_x", "x_", "s", "bv", "vs", "ut", "battery"]),
        st.one_of(st.integers(-2, 12), st.booleans(), st.none(), st.floats(0, 9), st.text(max_size=4)),
        max_size=3,
    ),
)
def test_short_way_and_careful_way_agree_on_good_records(unit, value, time, stale, more):
    text = json.dumps([{"bn": "a:", "n": "b", "u": unit, "v": value, "t": time, **more}])
    assert gist(text, stale) == gist(text + "\n", stale)


@pytest.mark.parametrize(
    ("more", "short"),
    [
        ({"bver": 10, "note": "no matter", "ut": 60}, True),
        ({"bver": 11}, False),
        ({"sum_": 1}, False),
        ({"bv": 1}, False),
    ],
)
def test_a_record_with_a_version_and_labels_to_be_ignored_takes_the_short_way(monkeypatch, more, short):
    asked = []
    careful = senml.read_document
    monkeypatch.setattr(senml, "read_document", lambda *given: (asked.append(1), careful(*given))[1])
    decode_senml(json.dumps([{"n": "a", "u": "Cel", "v": 1, **more}]).encode(), RECEIVED)
    assert bool(asked) is not short


def test_a_time_counts_up_to_the_end_of_the_year_9999():
    pack = '[{"n":"p1-a","u":"Cel","v":1,"t":%d}]'
    assert [one.time for one in heard(pack % 253_402_300_799)] == [253_402_300_799_000]
    assert reasons((pack % 253_402_300_800).encode()) == [SetAside.ABSURD_TIME]
