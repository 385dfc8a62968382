"""The JSON of commands that read and write the record: log, import, export, label, replay, tune, certificates and rules."""

from monitor.app.files.importing import Imported
from monitor.material.heat_status import HeatStatus
from monitor.model.effects import EffectKind
from monitor.model.events import Answer, EventKind
from monitor.model.words import Method, Priority
from monitor.model.work import Work, WorkKind
from monitor.proof.counting.counted import DayKind
from monitor.proof.rules.declared_rule import Status
from monitor.proof.verdict.other_conditions import ExaminedStatus
from monitor.proof.verdict.rule_finding import Outcome
from monitor.recordings.work_tables import LabelKind
from monitor.tuning.findings import Kind, Why
from monitor.tuning.hints import Kept
from monitor.tuning.phase_dates import SHOWN
from tests.tools.schemas.shapes import (
    Shape,
    anything,
    by_name,
    count,
    either,
    nothing,
    number,
    pair,
    perhaps,
    rows,
    said_of,
    text,
    thing,
    time,
    whole,
    word,
    yes,
)

_INSTANT = "ms since 1970 in UTC"
_BY = text('Who said so, as they wrote it; "" if nobody did.')
_ENTRY_ID = text("The id that a browser gave the entry, the same however often it is sent.")
_ENTRY_KINDS = (EventKind.WORK, EventKind.READINGS, EventKind.CORRECTION, EventKind.ANSWER)


def _work() -> Shape:
    found: dict[str, Shape] = {}
    for name, said in said_of(Work).items():
        if name == "kind":
            found[name] = word(said, WorkKind)
        elif name in ("time", "entered"):
            found[f"{name}?"] = whole(said.removesuffix("."), _INSTANT)
        else:
            found["place" if name == "place" else f"{name}?"] = text(said)
    return thing("A piece of work; fields that are empty are left out.", found | {"entry?": _ENTRY_ID})


WORK = _work()
_HAND = thing(
    "A reading by hand.",
    {
        "time": whole("When it was taken", _INSTANT),
        "probe": text("`hand:PLACE`, with `:SPOT` behind it if a spot was named."),
    },
)
_ROW: Shape = {
    "description": "A reading: its instant (ms since 1970 in UTC), its probe or `hand:PLACE`, its value in millionths of "
    "its unit, and the unit (UCUM).",
    "type": "array",
    "prefixItems": [{"type": "integer"}, {"type": "string"}, {"type": "integer"}, {"type": "string"}],
    "items": False,
    "minItems": 4,
}
PAYLOAD = either(
    "What is written into the record, as `docs/format-journal.md` has it.",
    WORK,
    thing(
        "Readings by hand.",
        {
            "rows": rows("The readings, by instant and probe.", _ROW),
            "ahead?": rows(
                "Always empty here: probes whose readings claim a future time.", anything("A probe and a time.")
            ),
            "further?": rows("Readings whose instant has another value already.", _ROW),
            "by?": _BY,
            "with?": text("The thermometer."),
            "depth?": whole("How deep it was held", "mm"),
            "note?": text("A remark."),
            "entry?": _ENTRY_ID,
        },
    ),
    thing(
        "A correction: something else in place of an earlier entry, or nothing.",
        {
            "of?": whole("The instant of the event that is corrected", _INSTANT),
            "row?": count("Which piece of work of an import, from 0."),
            "work?": either("The right work, or null to take the entry back.", WORK, nothing("Taken back.")),
            "reading?": _HAND,
            "readings?": rows("Readings by hand that are withdrawn.", _HAND),
            "by?": _BY,
            "entry?": _ENTRY_ID,
        },
    ),
    thing(
        "An answer to an alarm.",
        {
            "alarm": text("The alarm: `PLACE/ALARM` or `PLACE/ALARM/PROBE`."),
            "answer": word("The answer.", Answer),
            "until?": perhaps(whole("Until when it is put off", _INSTANT), "null if it is not"),
            "by?": _BY,
            "entry?": _ENTRY_ID,
        },
    ),
)
_EVENT_KIND = word("The kind of event that the entry is.", _ENTRY_KINDS)
_NUMBER = perhaps(count("The entry's number in the log."), "null if the log does not list it")
_CHANGES = text('What it changes, in sentences; "" if nothing but the log.')
_NOT_AT = nothing("Null, since nothing was written down.")
ENTERED = thing(
    "An entry that was written down.",
    {
        "at": perhaps(time("When it came into the record"), "null if it had been written down already"),
        "number": _NUMBER,
        "kind": _EVENT_KIND,
        "payload": PAYLOAD,
        "changes": _CHANGES,
    },
)
FORETOLD = thing(
    "With --only-say: what an entry would be and change; a line for each entry.",
    {
        "at": _NOT_AT,
        "kind": _EVENT_KIND,
        "payload": PAYLOAD,
        "changes": _CHANGES,
        "question": perhaps(text("What would be asked first."), "null if nothing"),
    },
)
ASKED = thing(
    "An entry that was not written down, since a question about it is open; --again takes it.",
    {"at": _NOT_AT, "kind": _EVENT_KIND, "payload": PAYLOAD, "question": text("The question, in sentences.")},
)
_LISTED = thing(
    "`log list`: one entry of the log; a line for each.",
    {
        "number": count("Its number in the log."),
        "time": time("When it was done or seen"),
        "entered": time("When it was entered"),
        "by": text('Who did it; "" if nobody said.'),
        "place": text("The pile or bin, or `yard` for the whole yard."),
        "kind": word("The kind of work, or `reading` for readings by hand.", (*WorkKind, "reading")),
        "what": text("The entry in words."),
        "photo": text('The name of its photo; "" if it has none.'),
        "undone": yes("Whether it was taken back."),
        "imported": yes("Whether it came from a file."),
    },
)
_ROUND = thing(
    "`log rounds FILE`: what became of the lines of a round's sheet.",
    {
        "taken": rows(
            "The entries that the sheet made, or would make with --only-say.",
            thing(
                "One entry.",
                {
                    "at": perhaps(time("When it came into the record"), "null with --only-say"),
                    "number": _NUMBER,
                    "lines": rows("The lines of the file that it is made of.", count("A line, from 1.")),
                    "kind": _EVENT_KIND,
                    "payload": PAYLOAD,
                },
            ),
        ),
        "waiting": rows(
            "The lines that were not taken.",
            thing(
                "One line.",
                {
                    "line": count("Its number in the file, from 1."),
                    "why": text("Why it waits, or what is asked."),
                    "question": yes("Whether --again would take it; else it has to be put right."),
                },
            ),
        ),
    },
)
LOG = either(
    "An entry that was written down, foretold or asked about; the list; what became of a round's sheet.",
    ENTERED,
    FORETOLD,
    ASKED,
    _LISTED,
    _ROUND,
)

_WRONG = count("Number of rows that are wrong and were left out.")
_QUESTIONS = rows("What is asked about the work, in sentences.", text("A question."))
IMPORT = either(
    "What came of an import.",
    thing(
        "What was taken in.",
        {"readings": count("Number of readings in the files.")}
        | {
            name: count(said)
            for name, said in zip(
                Imported.__dataclass_fields__,
                (
                    "Number of readings that are new.",
                    "Number of readings that the record had already.",
                    "Number of readings whose instant has another value in the record; both stand.",
                    "Number of pieces of work that are new.",
                    "Number of pieces of work that the record had already.",
                ),
                strict=True,
            )
        }
        | {"wrong": _WRONG},
    ),
    thing("Nothing was taken in, since something is asked; --again takes it.", {"questions": _QUESTIONS}),
    thing(
        "With --only-say: what the files would bring.",
        {
            "readings": count("Number of readings in the files."),
            "work": count("Number of pieces of work in the files."),
            "work_new": count("Number of those that the record has not."),
            "wrong": _WRONG,
            "questions": _QUESTIONS,
        },
    ),
)

_LABEL = thing(
    "A label: what a person says of a stretch of the past.",
    {
        "place": text("The pile or bin."),
        "start": time("Its beginning"),
        "end": time("Its end"),
        "kind": word("What it was.", LabelKind),
        "note": text('A remark; "" if none.'),
    },
)
LABEL = either(
    "A label that was made, each that was taken back, or the list of all.",
    _LABEL,
    rows("All labels, or those of a place.", _LABEL),
)

_ALARM: dict[str, Shape] = {
    "what?": text("Which kind of link is down: `source`, `channel`, `mirror`, or a part of the watch itself."),
    "name?": text("Its name."),
    "why?": text("Why it is down, or what fails."),
    "by_ms?": whole("How wrong a clock is", "ms"),
    "limit_ms?": whole("How wrong it may be", "ms"),
    "read?": time("When the last round by hand was"),
    "breaks?": time("When the chain of rounds breaks"),
    "variant?": text("How the alarm came about, in a word."),
    "other?": number(
        "The second number that is told: the heap's hottest, or the bin's comfortable value", "in the unit of `value`"
    ),
    "value?": number("The number that decided", "°C for temperatures, % for moistures"),
    "limit?": number("Its limit", "in the unit of `value`"),
    "moved_from?": text("The place from which the heap brought its danger."),
    "by?": word("Which probes are beyond the limit.", ("any", "all")),
    "coolest?": number("The bin's coolest temperature", "°C"),
    "hottest?": number("The bin's hottest temperature", "°C"),
    "rule?": text("The rule's id."),
    "batch?": text("The batch."),
    "moved_to?": text("The place to which the heap took its danger, which ended the alarm here."),
    "left?": text("The probe that showed it last and was taken away."),
    "taken_back?": yes("Whether the reading behind it was taken back, which ended it."),
}
_OF_PROGRESS = {
    "description": "A number of the rule's progress; names ending in `_h` are hours, in `_c` °C.",
    "type": "number",
}
_VALUES = "Facts about an alarm, as far as it has them; numbers of any other name are those of the rule's progress."
ALARM_VALUES = thing(_VALUES, _ALARM, more=_OF_PROGRESS)
_MOVED_VALUES = thing(
    _VALUES,
    _ALARM
    | {
        "by?": text("Who answered; where nobody did, which probes are beyond the limit (`any` or `all`)."),
        "until?": time("Until when it is put off"),
    },
    more=_OF_PROGRESS,
)
_BATCH = text("The batch.")


def _effect(said: str, kind: Shape, values: Shape, **more: Shape) -> Shape:
    return thing(
        said,
        {
            "time": time("When it was decided"),
            "place": text('The pile or bin, `ambient` for the air, or "" for the whole yard.'),
            "kind": kind,
            "axis": text(
                "What changed: `phase`; `thermal` or `moisture` of a bin; the alarm's id; the rule's id; the notice's occasion."
            ),
            "from": perhaps(text("The state before."), "null if there was none"),
            "to": perhaps(text("The state after; of a notice the contact to whom it goes."), "null if there is none"),
            "why": text("Why, in one sentence."),
            "since": time("Since when it was true"),
            "reason": text("Why, in a word for programs."),
            "probe": text('The probe that decided it; "" if no single one did.'),
            "values": values,
            **more,
        },
    )


EFFECT = either(
    "An effect: one decision of the engine.",
    _effect(
        "A change of a batch's phase.",
        word("The kind of effect.", (EffectKind.PHASE,)),
        thing(
            "Facts about it.",
            {
                "batch?": _BATCH,
                "coldest_c?": number("The coldest value that decided", "°C"),
                "hottest_c?": number("The hottest value that decided", "°C"),
            },
        ),
    ),
    _effect(
        "A change of a bin's condition.",
        word("The kind of effect.", (EffectKind.CONDITION,)),
        thing("Facts about it.", {"value?": number("The value that decided", "°C for `thermal`, % for `moisture`")}),
    ),
    _effect(
        "A step of a batch's rule.",
        word("The kind of effect.", (EffectKind.RULE,)),
        thing("Facts about it.", {"batch?": _BATCH}, more=_OF_PROGRESS),
    ),
    _effect("A change of an alarm's state.", word("The kind of effect.", (EffectKind.ALARM,)), _MOVED_VALUES),
    _effect(
        "A message.",
        word("The kind of effect.", (EffectKind.NOTICE,)),
        thing(
            "Facts about the message.",
            {
                "alarm?": text("The alarm that it tells of, by its id."),
                "alarms?": rows("The alarms that it tells of, if they are several.", text("An alarm's id.")),
                "priority": word("How soon somebody must act.", [one.name.lower() for one in Priority]),
                "keys": rows("The alarms and notices that it tells of.", text("`PLACE/ALARM` or `PLACE/ALARM/PROBE`.")),
                "channels": rows("The channels by which it goes; empty: the page shows it.", text("A channel.")),
                "batch?": text("The batch that it is about."),
            },
        ),
        text=text("The message."),
    ),
)
EXPORT = either(
    "With --out, what was written into the file. Without it, the file itself: effects or events.",
    thing(
        "What was written.",
        {
            "kind": word("What was exported.", ("readings", "work", "effects", "events")),
            "out": text("The file."),
            "rows": count("Number of rows or lines in it."),
            "faults": rows("Where the record is no longer what was written, in sentences.", text("A fault.")),
        },
    ),
    EFFECT,
    thing(
        "`export events`: an event.",
        {
            "at": time("When it came into the record"),
            "kind": word("Its kind.", EventKind),
            "payload": by_name("Its payload, as `docs/format-journal.md` has it.", anything("A part of it.")),
        },
    ),
    *(
        thing(f"`export events`: {said}.", {name: shape})
        for name, said, shape in (
            (
                "checkpoint",
                "the beginning of a record of which an earlier part is no longer kept",
                thing(
                    "The beginning.",
                    {
                        "at": time("Up to when the earlier part went"),
                        "head": text("The head of the chain of hashes, in hex."),
                        "state": text("The engine's state there, in base64."),
                    },
                ),
            ),
            (
                "seal",
                "the state from which the record goes on under another meaning of the engine",
                thing("The state.", {"at": time("From when on"), "state": text("The state, in base64.")}),
            ),
            ("mark", "the end, up to which deadlines had been served", time("Up to when")),
        )
    ),
)

_OUTCOME = "The verdict on time and temperature."
CERTIFY = thing(
    "The verdict on a batch by a rule of time and temperature.",
    {
        "verdict": word(_OUTCOME, Outcome),
        "rule": text("The rule's id."),
        "pile": text("The pile."),
        "from": time("Beginning of the record that was judged"),
        "to": time("Its end"),
        "total_s": number("Time in the hold, summed up", "s"),
        "longest_run_s": number("The longest unbroken time in the hold", "s"),
        "turnings": count("Number of turnings that count."),
        "unproven_s": number("Time of which nothing is proven", "s"),
        "intervals": rows(
            "The stretches in the hold.", pair("A stretch: its beginning and end.", time("An end of it"))
        ),
        "reasons": rows("Why, in sentences.", text("A reason.")),
        "heat_status": word("What the heat did to the material, as far as it is proven.", HeatStatus),
        "as_of": time("When it was judged, or up to when the record was looked at"),
        "turnings_logged": count("Number of entries of turnings, however many count as one."),
        "came_after": rows("What came after the end of the record that was judged, in sentences.", text("A sentence.")),
        "for_information": yes(
            "Whether it is for information only, since the rule's figures are unchecked and nobody confirmed them."
        ),
        "confirmed_by": perhaps(text("Who confirmed the rule's figures."), "null if nobody did"),
        "conditions": rows(
            "What came of the rule's other conditions.",
            thing(
                "A condition.",
                {
                    "key": text("Its word."),
                    "text": text("What it asks for."),
                    "status": word("How it was looked at.", ExaminedStatus),
                    "ok": perhaps(yes("Whether it is kept."), "null if it was not examined"),
                    "by": text('Who declared it; "" if nobody did.'),
                    "words": text("What came of it, in words."),
                },
            ),
        ),
        "unbroken": perhaps(
            word("The strict reading: the verdict if the days had to be one unbroken run.", Outcome),
            "null if the rule counts no days",
        ),
        "scattered": perhaps(
            word("The verdict if the days need not follow one another.", Outcome),
            "null if the rule's text says which holds",
        ),
        "days": rows(
            "The days that were counted, in order.",
            thing(
                "A day of 24 h.",
                {
                    "from": time("Its beginning"),
                    "to": time("Its end"),
                    "counts": yes("Whether it counts."),
                    "kind": word("Why or why not, in a word.", DayKind),
                    "why": text('Why not, in words; "" if it counts.'),
                },
            ),
        ),
        "remarks": rows("What else should be known, in sentences.", text("A remark.")),
        "thrown_away": count("Number of readings that cannot be and were thrown away."),
        "left_out": rows(
            "The lines of files that cannot be read.",
            thing(
                "A line.",
                {
                    "file": text("The file."),
                    "line": count("Its number, from 1."),
                    "why": text("Why."),
                },
            ),
        ),
        "assumed_s": number("Time between rounds by hand that is taken for granted", "s"),
        "usual": perhaps(
            word("The verdict as the rule is usually read, where another reading was asked for.", Outcome),
            "null where none was",
        ),
        "own_rule": yes("Whether the rule is a site's own."),
        "interim": yes("Whether the batch has not met its rule yet, and may well do so."),
    },
)
VERIFY = thing(
    "Whether a certificate is what was signed, and says what its own readings say.",
    {
        "ok": yes("Whether all is well."),
        "pages_compared": yes(
            "Whether the pages could be compared with the record; else trust this verdict, not the one on the pages."
        ),
        "verdict": text('The verdict that was worked out anew; "" if none could be.'),
        "key": text('The id of the key that signed it, SHA-256 in hex; "" where no signature holds.'),
        "sentences": rows("What was found, in sentences.", text("A finding.")),
        "faults": rows("What is wrong, in sentences.", text("A fault.")),
    },
)

_RULE: dict[str, Shape] = {
    "id": text("Its id."),
    "title": text("Its title."),
    "jurisdiction": text("Where it holds."),
    "section": text("Where it stands in the law or guidance."),
    "status": word("How its figures are known: read in the text, read at second hand, or from memory.", Status),
    "for_information": yes(
        "Whether it is for information only, since its figures are unchecked and nobody confirmed them."
    ),
    "own": yes("Whether it is a site's own."),
}
_WORDING = {"wording": text("What it asks for, in words."), "source": text("Where its figures come from.")}
_HEAT: dict[str, Shape] = _RULE | {
    "kind": word("A rule of time and temperature, for heaps.", ("heat",)),
    "methods": rows("The methods for which it holds.", word("A method.", Method)),
    "hold_degc": number("Its lowest temperature", "°C"),
}
_LASTING: dict[str, Shape] = _RULE | {"kind": word("A rule of duration, for lots.", ("duration",))}
RULES = either(
    "All rules, or everything about one.",
    rows("All rules.", either("A rule.", thing("A rule for heaps.", _HEAT), thing("A rule for lots.", _LASTING))),
    thing(
        "Everything about a rule for heaps.",
        _HEAT
        | _WORDING
        | {
            "feedstock": text("The material for which it holds."),
            "caution": text('What to beware of; "" if nothing.'),
            "conditions": rows(
                "What else it asks for.",
                thing(
                    "A condition.",
                    {"key": text("Its word, for `certify --declare`."), "text": text("What it asks for.")},
                ),
            ),
            "confirmed": either(
                "Who confirmed its figures; null if nobody did.",
                nothing("Nobody."),
                thing("Who and when.", {"by": text("Who."), "at": time("When")}),
            ),
            "text": text("The rule as the program reads it, TOML."),
        },
    ),
    thing("Everything about a rule for lots.", _LASTING | _WORDING),
)

_NOT_CHOSEN = "null where messages are only counted"
_SCORE: dict[str, Shape] = {
    "troubles": count("Number of troubles."),
    "caught": count("Number of troubles that a message told of."),
    "median_warning_s": perhaps(
        number("The median of the time from the message to the trouble's end", "s"), "null if none was caught"
    ),
    "worst_warning_s": perhaps(number("The shortest such time", "s"), "null if none was caught"),
    "needless": perhaps(count("Number of messages that told of no trouble."), _NOT_CHOSEN),
    "needless_week": perhaps(number("Needless messages", "a week"), _NOT_CHOSEN),
    "unjudged": perhaps(count("Number of messages about which the labels say nothing."), _NOT_CHOSEN),
    "messages": count("Number of messages."),
    "alarm_s": number("Time during which an alarm was on", "s"),
    "judged_s": number("Time that was judged", "s"),
}
_SETTINGS = by_name(
    "The values that were tried, by the threshold's key.", text("The value with its unit, as the configuration has it.")
)
_SPAN = pair("A stretch: its beginning and end.", time("An end of it"))
_SPREAD = pair("The bounds between which it may be by chance.", {"type": "number"})
_SPREAD_WHY = "null where it was not worked out"
_HINTS = {
    "worthy": "Number of hints that a message was worth it.",
    "worthy_told": "Number of those about which this run sends a message.",
    "put_off": "Number of messages that somebody put off.",
    "put_off_told": "Number of those that this run sends as well.",
}
TUNE = thing(
    "How other thresholds would have served on a recording.",
    {
        "place": text("The pile or bin."),
        "kind": word("Whether settings were chosen, or messages only counted.", Kind),
        "why": perhaps(word("Why they were only counted.", Why), "null if settings were chosen"),
        "from": time("Beginning of the recording"),
        "to": time("Its end"),
        "weeks": count("Number of its weeks."),
        "choosing": perhaps(rows("The weeks on which settings were chosen.", _SPAN), _NOT_CHOSEN),
        "reporting": perhaps(rows("The weeks on which they were judged.", _SPAN), _NOT_CHOSEN),
        "troubles": count("Number of troubles that were labelled."),
        "tried": count("Number of settings that were tried."),
        "better": yes("Whether the suggested settings beat today's."),
        "rows": rows(
            "The settings that are shown.",
            thing(
                "One choice of settings.",
                {
                    "settings": _SETTINGS,
                    "today": yes("Whether they are those in force."),
                    "suggested": yes("Whether they are suggested."),
                    "alike?": count("Number of other settings that give the very same messages."),
                    "new?": perhaps(count("Number of messages that today's settings do not send."), "null for today's"),
                    "gone?": perhaps(count("Number of today's messages that are not sent."), "null for today's"),
                    "moved_s?": rows(
                        "How much later the messages come that both send; below zero: earlier.", number("A shift", "s")
                    ),
                    **_SCORE,
                    "needless_week_spread": perhaps(_SPREAD, _SPREAD_WHY),
                    "caught_share_spread": perhaps(_SPREAD, _SPREAD_WHY),
                    "choosing": either(
                        "The same figures on the weeks of choosing; null where nothing was chosen.",
                        nothing("Nothing was chosen."),
                        thing("The figures.", _SCORE),
                    ),
                    "by_alarm": by_name("Number of messages of each alarm.", count("Their number.")),
                    "hints": either(
                        "What hints in the record say: how people answered; null if there are none.",
                        nothing("None."),
                        thing("The hints.", {name: count(_HINTS[name]) for name in Kept.__dataclass_fields__}),
                    ),
                    "words": text("The row in words."),
                },
            ),
        ),
        "phases": rows(
            "How the batches' phases move with thresholds of phases.",
            thing(
                "One choice of settings.",
                {
                    "settings": _SETTINGS,
                    "batches": rows(
                        "The batches.",
                        thing(
                            "A batch, with when each phase begins.",
                            {"batch": text("The batch.")}
                            | {
                                one.value: perhaps(time(f"When `{one.value}` begins"), "null if it does not")
                                for one in SHOWN
                            },
                        ),
                    ),
                },
            ),
        ),
        "verdict": text("What to do, in words."),
    },
)
