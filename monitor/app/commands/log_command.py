"""`log`: writes down work, a hand reading, a probe in or out, or an answer to an alarm."""

import re
import textwrap
import time
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from pathlib import Path
from typing import Any

import click

from monitor.app.commands.log_listing import show_list
from monitor.app.commands.log_rounds import take_rounds
from monitor.app.commands.putting_down import put_down
from monitor.app.console.harmless import harmless
from monitor.app.console.options import config_option, json_option, only_say_option, print_json
from monitor.app.console.time_words import parse_when
from monitor.app.entries.clashing_rounds import standing_first
from monitor.app.entries.entries import ANSWERS, Entry, allow, answer_entry, work_entry
from monitor.app.entries.entry_lines import counts_with
from monitor.app.entries.entry_log import entry_log, number_of
from monitor.app.entries.hand_entries import hand_meaning, reading_entry, round_entry, said_beside
from monitor.app.entries.last_units import last_unit
from monitor.app.entries.naming import alarm_meant, place_meant
from monitor.app.entries.photo_taken import photo_of_file
from monitor.app.entries.sittings import sitting_words
from monitor.app.entries.yard_words import Instant, nobody_left, yard_entry
from monitor.app.loop.asking import Taken
from monitor.app.yard.effect_words import local_time
from monitor.app.yard.in_force import load_or_in_force
from monitor.configuration import Configuration
from monitor.journal import open_reader
from monitor.model.amounts import parse_amount
from monitor.model.delivery_risks import RISKS
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.model.hand_words import ANOTHER_STANDS
from monitor.model.readings import Reading
from monitor.model.sightings import SIGHTINGS
from monitor.model.times import show_time
from monitor.model.work import WorkKind
from monitor.model.work_kinds import declared, kinds, typed_words

_BELOW_ZERO = re.compile(r"-|-\d.*")


_GOES = ", ".join(row.word for row in kinds() if row.goes_somewhere)
_OF_PROBE = ", ".join(row.word for row in kinds() if row.probe)
_WORK = ", ".join(row.word for row in kinds() if not row.command)
_EXAMPLES = textwrap.fill(f"Examples of work ({_WORK}; turning-now is turned, now; forecast is weather):", 99)


def _words(name: str) -> str:
    return ", ".join(SIGHTINGS[name])


_HELP = f"""Write down what was done or seen, a temperature taken by hand, or an answer to an alarm.

WHERE is a pile or a bin, by id or name, or `yard`; an answer names the alarm as `status` does. If an entry looks
like a slip, the command asks, writes nothing down, and exits with 1; --again takes the entry as it is.

\b
{_EXAMPLES}
  heaptender log turned p1 --at "20 min ago" --by Ann
  heaptender log built p1 "3 bags of leaves and 2 barrows of stable litter"
  heaptender log watered p1 40 L --at "yesterday 6pm"
  heaptender log fed b1 --amount 2 --measure kg
  heaptender log added p1 2 buckets --what "coffee grounds" --from "a kitchen"
  heaptender log inspected b1 --worms "on the lid" --smell sour --squeeze 5
  heaptender log sampled b1 "15 oz" --what worms --spot west
  heaptender log harvested b1 "100 lb" --moisture 74
  heaptender log screened b1 "47 lb" --moisture 45 --fines "30 lb" --middle "9 lb" --overs "8 lb"
  heaptender log moved p1 --to p2
  heaptender log probe-in p1 --probe p1-a

\b
The whole yard (no place is typed, except for a note):
  heaptender log delivery "horse manure" "3 yd3" --from "Hill stable" --risk wormer,herbicide
  heaptender log counted leaves 40 bags
  heaptender log visitors school class, 24 children
  heaptender log forecast --high 97 --low 71
  heaptender log note yard gate repaired --photo gate.jpg
  heaptender log away ann --from "Dec 4 5pm" --to "Dec 7 8am"

\b
Temperatures taken by hand (a round: the spots of the place in their order, - for one not read):
  heaptender log reading p1 131F
  heaptender log reading p1 141F --spot west --depth 24in --with dial-2
  heaptender log round p1 141 138 - 129
  heaptender log rounds                        (prints a sheet for all places, as CSV)
  heaptender log rounds filled-in.csv --by Ann

\b
An empty slip to hang up at a place, as a picture (SVG) that any browser prints:
  heaptender log slip p1 > bay1-slip.svg

\b
Answers to an alarm (seen or acknowledge, not-me, put-off, taken-up, out-of-service, back):
  heaptender log seen b1/overheating --by Ann
  heaptender log put-off b1/too-wet --until "in 12 h"

\b
List entries, take one back, correct one, by number (a place alone means its newest entry):
  heaptender log list p1 --since "Oct 5"
  heaptender log undo 14
  heaptender log correct 14 --at 14:05 --amount "30 L"
"""


@click.command(context_settings={"ignore_unknown_options": True}, help=_HELP)
@click.argument("what")
@click.argument("where", default="")
@click.argument("rest", nargs=-1)
@click.option("--at", "at", metavar="TIME", help="When it was: 14:05, yesterday 18:00, 20 min ago, or RFC 3339.")
@click.option("--to", metavar="PLACE", help=f"Where it went ({_GOES}), or until when (away).")
@click.option("--probe", metavar="PROBE", help=f"Which probe ({_OF_PROBE}).")
@click.option("--amount", metavar="N", help="How much: 20 L, 5lb, 3 buckets.")
@click.option("--measure", metavar="UNIT", help="Unit of the amount, if given apart.")
@click.option(
    "--what", "what_came", metavar="MATERIAL", help="Which material, batch or harvest came in, was used or screened."
)
@click.option("--parts", metavar="PARTS", help='What was thrown together: "3 bags of leaves and 2 barrows of litter".')
@click.option("--from", "origin", metavar="WHOM", help="Where it came from, or from when (away).")
@click.option("--spot", metavar="SPOT", help="Where in the place, by the site's own names.")
@click.option("--risk", metavar="WORDS", multiple=True, help=f"Its risks: {', '.join(RISKS)} (delivery).")
@click.option("--refused", metavar="WHY", help="Why it was sent back: then it is no stock (delivery).")
@click.option("--contact", metavar="CONTACT", help="Who is away (away).")
@click.option("--worms", metavar="WORD", help=f"Worms seen: {_words('worms')} (inspected).")
@click.option("--cocoons", metavar="WORD", help=f"Cocoons seen: {_words('cocoons')} (inspected).")
@click.option("--smell", metavar="WORD", help=f"Its smell: {_words('smell')} (inspected).")
@click.option("--squeeze", metavar="1-5", help="A handful squeezed: 1 crumbles, 3 one drop, 5 runs (inspected).")
@click.option("--moisture", metavar="PERCENT", help="Its moisture, % of wet mass (harvested, screened, sampled).")
@click.option("--fines", metavar="N", help="What passed 1/8 in (3.2 mm): 30 kg (screened).")
@click.option("--middle", metavar="N", help="What passed 1/4 in (6.4 mm) and not 1/8 in (screened).")
@click.option("--overs", metavar="N", help="What stayed on the screen (screened).")
@click.option("--high", metavar="DEGREES", help="Tomorrow's high, as forecast: 97, or 36 °C (weather).")
@click.option("--low", metavar="DEGREES", help="Tomorrow's low, as forecast (weather).")
@click.option("--day", metavar="DAY", help="Which day a forecast is for, if it is not tomorrow (weather).")
@click.option("--batch", metavar="BATCH", help="The batch, if it is not the one that lies there.")
@click.option("--place", metavar="PLACE", help="The right place (correct).")
@click.option(
    "--depth",
    metavar="LENGTH",
    help="How deep, such as 24in (reading, round); of the bed (inspected), of the layer (harvested).",
)
@click.option("--with", metavar="THERMOMETER", help="Which thermometer (reading, round).")
@click.option("--by", metavar="NAME", help="Who did it.")
@click.option("--note", metavar="TEXT", help="Anything else.")
@click.option(
    "--photo", metavar="FILE", help="A photo that goes with it: a JPEG of at most 400 KB, kept without place and time."
)
@click.option("--since", metavar="TIME", help="From this time on (list).")
@click.option("--again", is_flag=True, default=None, help="Take the entry as it is, without asking.")
@click.option("--until", metavar="TIME", help="End of a put-off, such as `in 2 h`.")
@only_say_option
@config_option
@json_option
def command(
    config_file: Path | None, as_json: bool, what: str, where: str, rest: tuple[str, ...], only_say: bool, **given: Any
) -> int:
    """Write down what was typed, or answer what was asked."""
    configuration = load_or_in_force(config_file)
    given |= {"what": given.pop("what_came"), "from": given.pop("origin"), "risk": ",".join(given["risk"]) or None}
    _refuse_unknown(what, (what, where or "", *rest))
    if what in ("list", "rounds"):
        if only_say and (what == "list" or not where):
            raise MisuseError(f'--only-say does not go with "{what}", which writes nothing down.')
        if what == "list":
            return show_list(configuration, where, rest, given, as_json=as_json)
        _text(what, rest, 0)
        return take_rounds(configuration, where, given, as_json=as_json, only_say=only_say)
    if what == "slip":
        return _print_slip(configuration, where or _some_place(configuration), given)
    kind = typed_words().get(what)
    if kind is not None and declared(kind).command:
        raise MisuseError(f'"{what}" is written down by `heaptender {declared(kind).command}`.')
    if not where and not (kind is not None and declared(kind).of_yard):
        raise MisuseError(f"Where? Name the pile or bin, such as `heaptender log {what} {_some_place(configuration)}`.")
    entries = _entries(configuration, what, where, rest, _with_photo(configuration, what, given, only_say=only_say))

    def tell(entry: Entry, taken: Taken, changes: str) -> int:
        return _tell(configuration, entry, taken, changes, as_json=as_json)

    return put_down(configuration, entries, tell, again=bool(given["again"]), only_say=only_say, as_json=as_json)


def _with_photo(configuration: Configuration, what: str, given: dict[str, Any], *, only_say: bool) -> dict[str, Any]:
    """Return the options with the photo's name in place of its file, which is kept unless nothing is written down."""
    if not given["photo"] or (what != "correct" and what not in typed_words()):
        return given
    return given | {"photo": photo_of_file(configuration, given["photo"], only_look=only_say)}


def _print_slip(configuration: Configuration, place: str, given: Mapping[str, Any]) -> int:
    """Print the empty slip of a place."""
    from monitor.page import slip_of  # noqa: PLC0415 (only what is drawn needs the page)

    allow("slip", given, ())
    settings = configuration.settings
    place = place_meant(settings, place)
    if place not in (*settings.piles, *settings.bins):
        raise MisuseError(
            f'there is no pile or bin "{place}"; a slip is for one, such as `heaptender log slip {_some_place(configuration)}`.'
        )
    click.echo(slip_of(settings, place, configuration.page.link))
    return 0


def _refuse_unknown(what: str, words: Iterable[str]) -> None:
    """Refuse words that look like options; a reading below zero does too, so click passes unknown options on to us."""
    for word in words:
        if word.startswith("-") and not (what in ("reading", "round", "correct") and _BELOW_ZERO.fullmatch(word)):
            raise MisuseError(f'there is no option "{word}"; `heaptender log --help` lists them.')


def _tell(configuration: Configuration, entry: Entry, taken: Taken, changes: str, *, as_json: bool) -> int:
    places = [*configuration.settings.piles, *configuration.settings.bins]
    with open_reader(configuration.data) as store:
        entries = entry_log(store, places) if taken.at is not None and entry.kind is not EventKind.ANSWER else []
        sitting = "" if taken.at is None else sitting_words(store, entries, taken.at)
    if taken.conflicts and not taken.new:
        first = standing_first(entries, [Reading(*row) for row in entry.payload["rows"]])
        both = f" (heaptender log undo {first.number} takes back both.)" if first is not None else ""
        click.echo(f"{ANOTHER_STANDS}{both}", err=True)
        return 1
    number = number_of(entries, taken.at) if taken.at is not None else None
    if as_json:
        at = None if taken.at is None else show_time(taken.at)
        print_json({"at": at, "number": number, "kind": entry.kind.value, "payload": entry.payload, "changes": changes})
        return 0
    when = local_time(entry.time, configuration.settings)
    if taken.at is None:
        click.echo(f"That was written down already: {entry.words}, {when}.")
        return 0
    same = counts_with(entries, taken.at)
    more = [f"It counts as one with {same.number}."] if same is not None else []
    more += [changes] if changes else []
    if entry.kind is EventKind.READINGS:
        more = _reading_words(configuration, entry)
    more += nobody_left(configuration, entry.payload.get("work") or entry.payload, time.time_ns() // 1_000_000)
    more += [one for one in (sitting, entry.remark) if one]
    more += [f"(To take it back: heaptender log undo {number}.)"] if number is not None else []
    head = f"Written down as {number}" if number is not None else "Written down"
    click.echo(harmless(" ".join([f"{head}: {entry.words}, {when}.", *more])))
    return 0


def _reading_words(configuration: Configuration, entry: Entry) -> list[str]:
    """Return at once the meaning of a reading by hand; this needs no daemon."""
    meant = hand_meaning(configuration.settings, entry.payload, time.time_ns() // 1_000_000)
    return [one for one in (meant, *said_beside(configuration, entry.payload)) if one]


def _some_place(configuration: Configuration) -> str:
    return next(iter((*configuration.settings.piles, *configuration.settings.bins)), "p1")


def _entries(
    configuration: Configuration, what: str, where: str, rest: tuple[str, ...], given: dict[str, Any]
) -> list[Entry]:
    now, settings = time.time_ns() // 1_000_000, configuration.settings

    def instant(text: str | None, option: str, *, ahead: bool = False) -> int | None:
        return None if text is None else parse_when(text, now, settings.site.time_zone, option, ahead=ahead)

    def moment(text: str, option: str) -> int:
        return parse_when(text, now, settings.site.time_zone, option, ahead=True)

    at = instant(given["at"], "--at")
    if at is not None and at > now:
        raise MisuseError("--at lies in the future; only what was done can be written down.")
    if what in ("undo", "correct"):
        return _amended(configuration, what, where, rest, given, at, lambda text: instant(text, "TIME"), moment)
    if what in ANSWERS or (what == "seen" and "/" in where):
        _text(what, rest, 0)
        key, until = alarm_meant(settings, where), instant(given["until"], "--until", ahead=True)
        return [answer_entry(configuration, what, key, given, until, now)]
    kind = typed_words().get(what)
    if kind is not None and declared(kind).of_yard:
        return [yard_entry(configuration, what, (where, *rest), given, now if at is None else at, moment)]
    place = place_meant(settings, where)
    if what in ("reading", "round"):
        taken = reading_entry if what == "reading" else round_entry
        return [taken(configuration, place, rest, given, now if at is None else at)]
    if rest:
        # The amount may follow the place (`log watered p1 40 L`), and so may the text of a note.
        text = " ".join(rest)
        name = "note" if what == "note" else "parts" if _names_parts(kind, text) else "amount"
        if given[name] or (kind is not None and declared(kind).sights):
            _text(what, rest, 0)
        given[name] = text
    return [work_entry(settings, what, place, given, now if at is None else at, partial(last_unit, configuration))]


def _names_parts(kind: WorkKind | None, text: str) -> bool:
    """Return whether the words after the place name materials (`3 bags of leaves`), and not an amount alone."""
    if kind is None or "parts" not in declared(kind).fields:
        return False
    try:
        parse_amount(text)
    except ValueError:
        return len(text.split()) > 2 or "=" in text
    return False


def _amended(
    configuration: Configuration,
    what: str,
    where: str,
    rest: tuple[str, ...],
    given: dict[str, Any],
    at: int | None,
    instant: Callable[[str | None], int | None],
    moment: Instant,
) -> list[Entry]:
    from monitor.app.entries.amendments import correct_entry, is_number, undo_entry  # noqa: PLC0415 (only corrections need the log)

    if what == "correct" and is_number(configuration.settings, where):
        return correct_entry(configuration, where, None, rest, given, at, moment)
    of = instant(_text(what, rest, 1))
    if what == "undo":
        return [undo_entry(configuration, where, of, given)]
    return correct_entry(configuration, where, of, (), given, at, moment)


def _text(what: str, rest: tuple[str, ...], most: int) -> str | None:
    """Return the words after WHERE as one text; refuse more words than the kind of work takes."""
    if len(rest) > most:
        raise MisuseError(f'"{rest[most]}" does not go with "{what}"; put what has spaces in it into quotes.')
    return rest[0] if rest else None
