"""What people type into the command line: times, amounts, figures, ranges, entries; each line of an input is one text.

What was understood is understood the same when it is typed again.
"""

from monitor.app.console.time_words import parse_when
from monitor.app.entries.entries import work_entry
from monitor.app.entries.naming import alarm_meant, place_meant, probe_meant
from monitor.app.yard.effect_words import local_time
from monitor.configuration import UnfitError, length_milli_m, read_range
from monitor.model.amounts import parse_amount
from monitor.model.errors import MisuseError
from monitor.model.event_shapes import wrong_request
from monitor.model.hand_words import hand_value, round_values, spot_meant
from monitor.model.mix_parts import parse_parts, parts_text
from monitor.model.photo_names import photo_understood
from monitor.model.times import parse_duration, parse_time, show_time
from monitor.model.work_entry import depth_understood, fraction_understood, result_understood
from monitor.model.work_kinds import typed_words
from tests.fuzz.contract import Parser, all_allowed, parts, text_of
from tests.fuzz.parsers.forms import NOW, SETTINGS

ALLOWED = (ValueError, MisuseError, UnfitError)
OPTIONS = ("amount", "measure", "what", "from", "spot", "note", "parts", "moisture", "fines", "depth", "worms", "squeeze", "high", "low", "day",
           "lot", "to", "probe", "contact", "result", "test", "price")  # fmt: skip


def _amount(text, us):
    found = parse_amount(text, us=us)
    if found.unit:
        again = parse_amount(found.number, found.unit, us=us)
        assert (again.number, again.unit, again.dimension) == (found.number, found.unit, found.dimension), (
            found,
            again,
        )


def _parts(text):
    found = parts_text(parse_parts(text))
    assert parts_text(parse_parts(found)) == found, found


def _same(understood, text):
    found = understood(text)
    assert understood(found) == found, found


def _when(text, ahead):
    local_time(parse_when(text, NOW, "America/New_York", "--at", ahead=ahead), SETTINGS)


def _entry(word, place, texts):
    given = {option: text or None for option, text in texts.items()}
    entry = work_entry(SETTINGS, word, place, given, NOW)
    assert wrong_request(entry.kind, entry.payload) == "", entry


def read(data):
    """Read each line as everything that it could be, and all of them together as an entry."""
    word, place, *rest = map(text_of, parts(data, 6))
    for text in (word, place, *rest):
        all_allowed(
            ALLOWED,
            lambda text=text: _when(text, False),
            lambda text=text: _when(text, True),
            lambda text=text: _amount(text, True),
            lambda text=text: _amount(text, False),
            lambda text=text: _parts(text),
            lambda text=text: _same(lambda one: fraction_understood(SETTINGS, "fines", one), text),
            lambda text=text: _same(depth_understood, text),
            lambda text=text: _same(result_understood, text),
            lambda text=text: _same(photo_understood, text),
            lambda text=text: hand_value(SETTINGS, text),
            lambda text=text: round_values(SETTINGS, "p2", tuple(text.split())),
            lambda text=text: spot_meant(SETTINGS, "p1", text),
            lambda text=text: spot_meant(SETTINGS, "p2", text),
            lambda text=text: length_milli_m(text),
            lambda text=text: parse_duration(text),
            lambda text=text: show_time(parse_time(text)),
            lambda text=text: read_range(text, SETTINGS),
            lambda text=text: (place_meant(SETTINGS, text), probe_meant(SETTINGS, text), alarm_meant(SETTINGS, text)),
        )
    if word in typed_words():
        texts = {}
        for one in rest:
            option, equals, text = one.partition("=")
            if equals and option in OPTIONS:
                texts[option] = text
        all_allowed((MisuseError,), lambda: _entry(word, place, texts))


PARSER = Parser(
    read,
    seeds=(
        b"built\np1\namount=3 m3\nparts=3 bags leaves, 2 barrows litter\nnote=x\n",
        b"inspected\nb1\nworms=on the lid\nsqueeze=5\nyesterday 6pm\n20 min ago",
        b"screened\nb1\namount=47 lb\nfines=30 lb\nOct 5 9am\nin 2 h",
        b"reading\np2\n141F\n141 138 - 129\nbins.b1.overheating=80..90degF:0.5\nSunday 2pm",
        b"forecast\nyard\nhigh=97\nday=tomorrow\n10/5\n2026-07-18T14:05:00-04:00",
    ),
    words=(
        b"noon",
        b"midnight",
        b"yesterday",
        b"tomorrow",
        b"Feb 29",
        b"12:60",
        b"9:30pm",
        b"days ago",
        b"0001-01-01",
        b"9999-12-31",
        b"31.12.",
        b"short ton",
        b"yd3",
        b"1/2",
        b"\xc2\xbd",
        b"1e9",
        b" ft ",
        b'"',
        b"'",
        b"sampled",
        b"moved",
        b"fed",
        b"probe-in",
        b"probe=p1-a",
        b"to=p2",
        b"delivery",
        b"away",
        b"contact=ann",
        b"harvested",
        b"moisture=74",
        b"..",
        b":0.5",
    ),
    longest=400,
)
