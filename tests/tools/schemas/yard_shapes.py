"""The JSON of commands that tell of places, material and work: status, diary, beds, stock, lots, mixes, reports."""

from monitor.alarms import TOLD_AS
from monitor.diary.due import What
from monitor.durations.lot_duration import Answer
from monitor.husbandry.bed_build import Step
from monitor.husbandry.bed_course import Known
from monitor.husbandry.feeding import Limit
from monitor.material.heat_status import HeatStatus
from monitor.material.lots import Treated
from monitor.material.movements import NodeKind
from monitor.model.quarantine import SetAside
from monitor.model.words import AlarmState, BinKind, Dampness, Phase, RuleState, Thermal
from monitor.model.work import WorkKind
from monitor.model.work_kinds import FRACTIONS
from monitor.notices.watched import By
from tests.tools.schemas.record_shapes import ALARM_VALUES, ASKED, FORETOLD
from tests.tools.schemas.shapes import (
    Shape,
    by_name,
    count,
    day,
    either,
    nothing,
    number,
    pair,
    perhaps,
    rows,
    text,
    thing,
    time,
    whole,
    word,
    yes,
)

_UNKNOWN = "null if nobody knows"
_PLACE = text("The pile or bin.")


def _kg(said: str) -> Shape:
    return number(said, "kg")


_READ: dict[str, Shape] = {
    "by_hand?": thing(
        "The last reading by hand there.",
        {
            "time": time("When it was taken"),
            "coldest": number("The coldest value", "°C"),
            "hottest": number("The hottest value", "°C"),
            "spots": count("Number of spots that were read."),
            "by": text('Who took it; "" if nobody said.'),
            "counts": yes("Whether it still tells of now."),
            "words": text("The reading in words."),
        },
    ),
    "apart?": perhaps(text("How far hand and probes are apart, in words."), "null if they agree or nobody can say"),
}
_ASKED = perhaps(text("What is asked about a place that is empty by the log and reads warm."), "null if nothing")
_STORES: dict[str, Shape] = {
    "running": yes("Whether a daemon runs."),
    "stores": yes("Whether what comes in can be stored."),
    "unstored": text('Why nothing can be stored; "" if it can.'),
}
STATUS = either(
    "How the daemon, its sources, the places and the probes are; with --away or --leaving, that text.",
    thing(
        "The state of everything.",
        _STORES
        | {
            "pid": perhaps(count("The daemon's process."), "null if none runs"),
            "since": perhaps(time("Since when it runs"), "null if none runs"),
            "last": perhaps(time("Up to when the record goes"), "null if it is empty"),
            "piles": rows(
                "The places for heaps.",
                thing(
                    "A place and the heap on it.",
                    {
                        "place": text("The place."),
                        "batch": perhaps(text("The batch that lies there."), "null if none does"),
                        "built?": time("When it was built"),
                        "phase": word("Its phase, or `empty`.", (*Phase, "empty")),
                        "rule": perhaps(text("Its rule's id, or `none`."), "null if nothing lies there"),
                        "rule_state?": word("How far it is with its rule.", RuleState),
                        "heat_status?": perhaps(
                            word("What the heat did to the material, as far as it is proven.", HeatStatus),
                            "null without a rule",
                        ),
                        "progress": by_name(
                            "The numbers of its rule's progress: `days`, `turnings` and so on, each with what is needed as "
                            "`NAME_needed`; names ending in `_h` are hours, in `_c` °C.",
                            {"description": "The number.", "type": "number"},
                        ),
                        "alone?": perhaps(text("That a single probe tells of it, in words."), "null if several do"),
                        "next_round?": thing(
                            "The next round by hand, where rounds prove the rule.",
                            {
                                "last": time("When the last one was"),
                                "due": time("When the next one is due"),
                                "chain_breaks": time("When their chain breaks without one"),
                            },
                        ),
                        "asked?": _ASKED,
                        **_READ,
                    },
                ),
            ),
            "bins": rows(
                "The worm bins.",
                thing(
                    "A bin.",
                    {
                        "place": text("The bin."),
                        "thermal": word("How warm it is.", Thermal),
                        "moisture": word("How damp it is.", Dampness),
                        f"{WorkKind.EMPTIED.value}?": time("When it was emptied"),
                        "asked?": _ASKED,
                        "unwell?": perhaps(
                            text("What was seen of worms that suffer, and advice."), "null if they are well"
                        ),
                        **_READ,
                    },
                ),
            ),
            "left_behind": rows(
                "Places out of the configuration on which heaps still lie by the record.", text("The place.")
            ),
            "probes": rows(
                "The probes.",
                thing(
                    "A probe.",
                    {
                        "probe": text("The probe."),
                        "place": text('Where it is; "" if nowhere.'),
                        "value": perhaps(
                            number(
                                "Its newest accepted value",
                                "°C for temperatures, % for moisture and oxygen, V for battery, dBm for signal",
                            ),
                            "null if there is none",
                        ),
                        "last": perhaps(time("When its newest reading was taken"), "null if it was never heard"),
                        "words": text("All that in words."),
                    },
                ),
            ),
            "alarms": rows(
                "The alarms that are not over and done with.",
                thing(
                    "An alarm.",
                    {
                        "alarm": text("The alarm: `PLACE/ALARM` or `PLACE/ALARM/PROBE`."),
                        "state": word(
                            "Its state (ISA-18.2).", [one for one in AlarmState if one is not AlarmState.NORMAL]
                        ),
                        "told_as": word(
                            "The state as people read it.",
                            dict.fromkeys(said.removesuffix(" until") for said in TOLD_AS.values()),
                        ),
                        "since": time("Since when it is on"),
                        "until": perhaps(time("Until when it is put off"), "null if it is not"),
                        "values": ALARM_VALUES,
                    },
                ),
            ),
            "watched": rows(
                "Who watches each place.",
                thing(
                    "A place.",
                    {
                        "place": _PLACE,
                        "by": word("Who watches it, or `empty`.", By),
                        "known": yes("Whether its state is known now."),
                        "last": perhaps(time("When the newest reading that counts was taken"), "null if there is none"),
                        "who": perhaps(text("Who read it by hand."), "null if nobody did or said"),
                    },
                ),
            ),
            "nobody_on_duty": rows("When nobody is on duty within seven days, in sentences.", text("A sentence.")),
            "links": rows(
                "The connections.",
                thing(
                    "A connection.",
                    {
                        "name": text("Its name."),
                        "what": text("What it is: `source`, `channel`, `mirror`, or a part of the watch itself."),
                        "up": yes("Whether it is well."),
                        "since": time("Since when"),
                        "why": text('Why it is not; "" if it is.'),
                    },
                ),
            ),
            "set_aside": by_name(
                "Number of messages and readings that were set aside, by the reason.", count("Their number."), SetAside
            ),
            "set_aside_newest": by_name(
                "The newest of them, by the reason.",
                thing(
                    "A message or reading.",
                    {
                        "received": time("When it came"),
                        "source": text("The source."),
                        "detail": text("Why it was set aside, for a person."),
                        "excerpt": text("Its beginning."),
                    },
                ),
                SetAside,
            ),
            "notices_waiting": count("Number of messages that wait to be sent."),
            "readings_waiting": count("Number of readings that wait to be taken in."),
            "journal_bytes": whole("Size of the record on the disk", "bytes"),
            "faults": rows("What could not be used when the record was read, in sentences.", text("A fault.")),
            "page": perhaps(text("The page's address."), "null if it is off or away"),
            "configuration": either(
                "The configuration file that the daemon read; null if no daemon runs.",
                nothing("No daemon."),
                thing(
                    "The file.",
                    {
                        "file": text("The file."),
                        "read": time("When it was read"),
                        "changed_since": yes("Whether it was changed since then."),
                        "refused": rows(
                            "Why the last reading of it was refused; empty: it was taken.", text("A problem.")
                        ),
                    },
                ),
            ),
        },
    ),
    thing(
        "With --away or --leaving.",
        _STORES
        | {"away?": text("What happened while you were away."), "leaving?": text("What is watched, before you go.")},
    ),
)

DIARY = rows(
    "What falls due, in order.",
    thing(
        "A thing that falls due or is expected.",
        {
            "due": time("From when on it can be done, or when it is expected"),
            "place": text("The pile or bin, or `yard` for the whole yard."),
            "what": word("What is to be done.", What),
            "why": text("Why, a sentence without its full stop."),
            "slack_s": whole("How long it can wait; below zero: how long it is overdue", "s"),
            "expected": yes("Whether it is only expected, so that nobody need do anything."),
            "id": text("Its id, the same at every look."),
        },
    ),
)

_STEP = {
    "reason": word("Why it is due, or why nobody can say when.", Step),
    "due": perhaps(time("From when on it can be done"), "null if not yet, or nobody can say"),
    "by_mm": perhaps(
        number("By how much the bed must sink (lift) or grow (harvest) first", "mm"),
        "null where that is not the reason",
    ),
}
BED = either(
    "The beds; with --count, what so many worms weigh.",
    rows(
        "The beds.",
        thing(
            "A bed.",
            {
                "place": text("The bin."),
                "kind": perhaps(word("Its kind.", BinKind), "null if the configuration does not say"),
                "surface_m2": perhaps(number("Its surface", "m²"), _UNKNOWN),
                "depth_mm": perhaps(number("Its depth", "mm"), _UNKNOWN),
                "depth_measured": perhaps(time("When that was measured"), "null if it never was"),
                "worms": either(
                    "Its worms; null if nobody knows.",
                    nothing("Nobody knows."),
                    thing(
                        "The worms.",
                        {
                            "known": word("How they are known.", Known),
                            "kg": _kg("Their weight, most likely"),
                            "least_kg": _kg("Their weight at least"),
                            "most_kg": _kg("Their weight at most"),
                            "time": perhaps(time("When that was found"), "null if nobody knows"),
                            "samples": count("Number of samples."),
                            "lost_at_most_kg": _kg("What harvests since then took along at most"),
                        },
                    ),
                ),
                "lift": thing("The next lift of bedding.", _STEP),
                "harvest": thing("The next harvest.", _STEP),
                "residence_days": perhaps(number("How long food stays in it", "days"), _UNKNOWN),
            },
        ),
    ),
    thing(
        "What so many worms weigh.",
        {
            "worms": count("Number of grown worms."),
            "least_kg": _kg("Their weight at least"),
            "kg": _kg("Their weight, most likely"),
            "most_kg": _kg("Their weight at most"),
        },
    ),
)
FEEDING = rows(
    "A week's food for each bed.",
    thing(
        "A bed's food.",
        {
            "place": text("The bin."),
            "planned": yes("Whether there is a plan; to feed nothing is one."),
            "week_kg": _kg("Food in the week, in all"),
            "feeds": count("Number of parts in which it is fed."),
            "layer_mm": number("The layer of each part over the whole surface", "mm"),
            "appetite_kg": perhaps(_kg("What its worms would eat in a week"), _UNKNOWN),
            "surface_kg": perhaps(
                _kg("The most wet food that its surface takes in a week"), "null for dry food, or if nobody knows"
            ),
            "limits": rows(
                "Why it gets less than its worms would eat.",
                thing(
                    "A reason.",
                    {
                        "limit": word("The reason.", Limit),
                        "share": number("What it leaves of the food", "a share from 0 to 1"),
                    },
                ),
            ),
            "alarms": rows("The alarms that forbid feeding.", text("An alarm's name.")),
            "outlived": rows("Alarms that only the last word of a silent probe holds open.", text("An alarm's name.")),
            "mean_degc": perhaps(number("Its mean temperature", "°C"), _UNKNOWN),
            "fed_kg": _kg("Food of the last seven days, as far as it is known"),
            "fed_known": yes("Whether all of that is known."),
        },
    ),
)

_SCREENED = thing(
    "A screening.",
    {
        "on_screen_kg": perhaps(_kg("What was put on the screen"), _UNKNOWN),
        "on_screen_derived": yes("Whether that was not weighed but follows from the moistures."),
        "moisture_pct": perhaps(number("Moisture on the screen", "% of wet mass"), _UNKNOWN),
        "moisture_derived": yes("Whether that was not measured but follows from the weights."),
        "dried_kg": perhaps(_kg("Water that was lost between harvest and screen"), _UNKNOWN),
        "dry_screened_share": perhaps(
            number("What went onto the screen of the harvest's dry matter", "a share"),
            "null where not both were measured",
        ),
        "sum_off_share": perhaps(
            number("By how much the fractions exceed what was put on the screen", "a share of that"), _UNKNOWN
        ),
        "fractions": by_name(
            "The fractions by name: what passes the fine screen, what passes the coarse one, what stays.",
            thing(
                "A fraction.",
                {
                    "kg": _kg("Its mass"),
                    "dry_kg": perhaps(_kg("Its dry matter"), _UNKNOWN),
                    "of_wet": perhaps(number("Its part of the wet harvest", "a share"), _UNKNOWN),
                    "of_dry": perhaps(number("Its part of the dry matter", "a share"), _UNKNOWN),
                },
            ),
            FRACTIONS,
        ),
    },
)
HARVEST = rows(
    "The harvests.",
    thing(
        "A harvest.",
        {
            "harvest": text("Its id."),
            "place": text("The bin."),
            "time": time("When it was"),
            "wet_kg": perhaps(_kg("Its mass as it came out of the bed"), "null if nobody weighed it"),
            "moisture_pct": perhaps(number("Its moisture", "% of wet mass"), "null if nobody measured it"),
            "dry_kg": perhaps(_kg("Its dry matter"), _UNKNOWN),
            "screening": either("Its screening; null if there was none.", nothing("None."), _SCREENED),
            "second_screening": either(
                "The screening of its fines after their rest; null if there was none.", nothing("None."), _SCREENED
            ),
            "returned": rows(
                "What was put back into beds.",
                thing(
                    "A return.",
                    {
                        "what": text("The fraction."),
                        "to": text("The bin."),
                        "amount": text("How much, as it was written down."),
                    },
                ),
            ),
        },
    ),
)

_RISKS_ASKED = {
    "risks_asked?": yes("Whether anybody was asked about the risks of the delivery; only of deliveries in the log."),
    "risks_said_by?": text('Who wrote the delivery down; "" if nobody said.'),
}
_RISKS = rows("Risks of it, such as weed killer.", text("A risk, in the words of `heaptender log delivery --risk`."))
STOCK = rows(
    "The yard's material, what spoils first.",
    thing(
        "A material.",
        {
            "material": text("Its name."),
            "measured_kg": _kg("What is left and was weighed"),
            "estimated_kg": _kg("What is left and was estimated by its volume"),
            "delivered": yes("Whether any of it ever came in."),
            "short_kg": _kg("How much more was used than came in"),
            "uses_without_amount": count("Number of uses since the last count whose amount nobody wrote down."),
            "spoils": yes("Whether it spoils."),
            "deliveries": rows(
                "What something is left of, oldest first.",
                thing(
                    "A delivery, or what a count found beyond all deliveries.",
                    {
                        "id": text("Its id."),
                        "time": time("When it came in, or was counted"),
                        "left_kg": perhaps(_kg("What is left of it"), _UNKNOWN),
                        "measured": yes("Whether that was weighed."),
                        "risks": _RISKS,
                        **_RISKS_ASKED,
                    },
                ),
            ),
        },
    ),
)

_GIVEN: dict[str, Shape] = {
    "left_kg": perhaps(_kg("What is left of it"), _UNKNOWN),
    "left_at_most_kg": perhaps(_kg("What is left of it at most, where not all gifts were weighed"), _UNKNOWN),
    "given": rows(
        "Who has some of it, in order of time.",
        thing(
            "A gift or sale.",
            {
                "to": text("Who got it."),
                "time": time("When"),
                "kg": perhaps(_kg("How much"), _UNKNOWN),
                "price": text('What they paid, as typed; "" if nothing.'),
            },
        ),
    ),
}
_LOT: dict[str, Shape] = {
    "lot": text("Its id."),
    "status": word("Whether it may be given out.", ("held back", "all given out", "not held back")),
    "held": rows("Why it is held back; empty: nothing does.", text("A reason.")),
    "made": time("When it was made"),
    "treated": word("What a label may say of heat.", Treated),
    "records": rows("The heaps whose records allow that word.", text("A batch.")),
    "words": text("What a label may say of heat, in words."),
    "inputs": rows(
        "What went into it, or may have.",
        thing(
            "An input.",
            {
                "kind": word("What it is.", NodeKind),
                "id": text("Its id."),
                "certain": yes("Whether it surely went in."),
                "heat_status": perhaps(
                    word("What heat did to it on the way, as far as it is proven.", HeatStatus), _UNKNOWN
                ),
                "risks": _RISKS,
                **_RISKS_ASKED,
                "dry_kg": perhaps(_kg("Its dry matter in the lot"), _UNKNOWN),
            },
        ),
    ),
    "tests": rows(
        "Its tests, newest last.",
        thing(
            "A test.",
            {
                "test": text("Which."),
                "result": word("Its result.", ("passed", "failed")),
                "time": time("When it was written down for"),
            },
        ),
    ),
    **_GIVEN,
}
LOTS = rows("The newest lots, or with --all every one.", thing("A lot.", _LOT))
LOTS_TRACE = thing(
    "A lot with all that went into it.",
    _LOT
    | {
        "duration": rows(
            "How it stands to the rules of duration.",
            thing(
                "A rule.",
                {
                    "rule": text("The rule's id."),
                    "answer": word("Whether it is kept.", Answer),
                    "for_information": yes("Whether its figures are unchecked and nobody confirmed them."),
                    "conditions": rows(
                        "What came of each condition.",
                        thing(
                            "A condition.",
                            {
                                "key": text("Its word."),
                                "answer": word("Whether it is kept.", Answer),
                                "why": text("Why."),
                            },
                        ),
                    ),
                },
            ),
        )
    },
)
LOTS_RECALL = thing(
    "The lots that have something of a delivery, heap, bed or harvest, or may have.",
    {
        "lots": rows(
            "The lots.",
            thing(
                "A lot.", {"lot": text("Its id."), "certain": yes("Whether it surely has something of it."), **_GIVEN}
            ),
        )
    },
)
LOTS_ENTRY = either(
    "An entry about a lot.",
    thing(
        "It was written down.",
        {
            "number": perhaps(count("Its number in the log."), "null if the log does not list it"),
            "lot": text("The lot's id."),
        },
    ),
    FORETOLD,
    ASKED,
)

_PARTS = {"material": text("The material."), "mass_kg": _kg("How much")}
_BAND = "Its lowest and highest value, as far as materials vary"
_NO_DENSITY = "null if the density of a part is unknown"
_RANGE_PCT = pair(f"{_BAND}, % of wet mass.", {"type": "number"})
MIX = thing(
    "A mix.",
    {
        "fits": yes("Whether it keeps all that must hold."),
        "parts": rows(
            "Its materials.",
            thing(
                "A material.",
                _PARTS | {"volume_l": perhaps(number("Its volume", "L"), "null if its density is unknown")},
            ),
        ),
        "water_l": number("Water to add", "L"),
        "cn": perhaps(number("Carbon to nitrogen", "by mass"), "null if there is no nitrogen"),
        "cn_range": perhaps(pair(f"{_BAND}, by mass.", {"type": "number"}), "null if there is no nitrogen"),
        "cn_without_wood": perhaps(
            number("The same without what is in coarse wood", "by mass"),
            "null if there is no coarse wood, or nothing else",
        ),
        "moisture": number("Moisture", "% of wet mass"),
        "moisture_range": _RANGE_PCT,
        "bulk_density_kg_m3": perhaps(number("Density as it settles", "kg/m³"), _NO_DENSITY),
        "free_air": perhaps(number("Free air", "% of the settled volume"), _NO_DENSITY),
        "density_measured": yes("Whether the density was measured with a bucket."),
        "free_air_measured": yes("Whether the free air was."),
        "binding": rows(
            "The limits that it reaches or breaks.",
            thing(
                "A limit.",
                {
                    "what": text("The limit, or the material that is used up."),
                    "side": word("Whether it is the least or the most.", ("least", "most")),
                    "value": number(
                        "The limit's value",
                        "C/N by mass, moisture and free air in %, density in kg/m³, materials in kg",
                    ),
                    "broken": yes("Whether the mix lies beyond it."),
                },
            ),
        ),
        "mending": either(
            "What would make it fit; null if it fits, or no material would.",
            nothing("Nothing."),
            thing("A further amount of a material.", _PARTS),
        ),
        "layers": rows(
            "The layers in which to build it.",
            thing(
                "A layer.",
                {"parts": rows("Its materials.", thing("A material.", _PARTS)), "water_l": number("Its water", "L")},
            ),
        ),
        "volume_l": perhaps(number("Its volume as it settles", "L"), _NO_DENSITY),
        "height_mm": perhaps(whole("Height of the heap", "mm"), "null if the ground it stands on is unknown"),
        "big_enough": perhaps(
            yes("Whether the heap is big enough to get hot, and not too flat."), "null if its size is unknown"
        ),
        "may_burn": perhaps(
            yes("Whether it is so high that it can catch fire by itself."), "null if its size is unknown"
        ),
    },
)
RECIPE = either(
    "A mix; with --build, an entry about it follows where it is asked about or only foretold.", MIX, FORETOLD, ASKED
)

_SUM: dict[str, Shape] = {
    "entries": count("Number of entries that it is the sum of."),
    "kg": _kg("All that is known"),
    "measured_kg": _kg("What was weighed"),
    "estimated_kg": _kg("What was estimated by volume and density"),
    "without_amount": count("Number of entries of which a part has no known mass."),
    "dry_kg": _kg("Dry matter, as far as it is known"),
    "without_dry": count("Number of entries of which a part has no known dry matter."),
}
_TAKEN = _SUM | {
    "measured_share": perhaps(number("What was weighed of what is known", "a share"), "null if nothing is known"),
    "standard_error_kg": _kg("Standard error of the sum, from full containers that were weighed"),
    "weighed_once": count("Number of entries in containers of which a single full one was weighed."),
}
_TURNED = rows(
    "The heaps.",
    thing(
        "A heap.",
        {
            "heap": text("The batch."),
            "place": text("Where it lay."),
            "rule": text("The rule's id."),
            "time": time("When"),
        },
    ),
)
REPORT = thing(
    "What came in, what became of it, and who got it, in a month or season.",
    {
        "name": text("The span's name."),
        "from": time("Its beginning"),
        "to": time("Its end"),
        "time_zone": text("The yard's time zone, by which months and days are counted."),
        "goes_on": yes("Whether it still goes on."),
        "taken_in": rows(
            "What came in, by month, supplier and material.",
            thing(
                "A sum.",
                {
                    "month": text("The month, such as 2026-10."),
                    "from": text('Who brought it; "" if nobody wrote that down.'),
                    "material": text("What it was."),
                    **_TAKEN,
                },
            ),
        ),
        "taken_in_all": thing("The sum of all that came in.", _TAKEN),
        "refused": rows(
            "Deliveries that were sent back.",
            thing(
                "A delivery.",
                {
                    "time": time("When"),
                    "from": text('Who brought it; "" if nobody wrote that down.'),
                    "material": text("What it was."),
                    "why": text("Why it was sent back."),
                },
            ),
        ),
        "met": _TURNED | {"description": "The heaps that met their rule."},
        "void": _TURNED | {"description": "The heaps to which raw material came, so that their heat counts no more."},
        "turnings": count("Number of turnings that count."),
        "turnings_logged": count("Number of turnings that were logged, however many count as one."),
        WorkKind.FED.value: thing("Food of the worms.", _SUM),
        WorkKind.HARVESTED.value: thing("What was taken from the beds.", _SUM),
        WorkKind.SCREENED.value: by_name(
            "The fractions that were screened, by name.", thing("A fraction.", _SUM), FRACTIONS
        ),
        "given_out": thing(
            "What went to people.",
            _SUM
            | {
                "containers": by_name(
                    "Number of containers, by the container's id.", {"description": "Their number.", "type": "number"}
                ),
                "people": count("Number of people who got some."),
            },
        ),
        "water": thing(
            "Water that was poured.",
            {
                "entries": count("Number of entries."),
                "litres": number("Water", "L"),
                "without_amount": count("Number of entries whose amount is not known."),
            },
        ),
        "gone": rows(
            "What is gone, by weighing.",
            thing(
                "A loss.",
                {
                    "time": time("When it was found"),
                    "of": text("What lacks it."),
                    "by": word("The kind of work by which it was found.", WorkKind),
                    "kg": _kg("How much"),
                    "dry_kg": perhaps(_kg("Its dry matter"), _UNKNOWN),
                },
            ),
        ),
        "gaps": rows(
            "Dry matter that does not add up.",
            thing(
                "A gap.",
                {
                    "of": text("Where."),
                    "percent": number("How much more came in than left; below 0: more left", "% of what came in"),
                },
            ),
        ),
        "told": rows(
            "Pests, complaints, incidents and visitors.",
            thing(
                "An entry.",
                {
                    "time": time("When"),
                    "what": word("What it is.", WorkKind),
                    "note": text("The remark."),
                    "spot": text('Where in the yard; "" if nobody said.'),
                },
            ),
        ),
        "days_without_entry": rows("Days on which nobody wrote anything down.", day("A day")),
        "days_counted": count("Number of days that were looked at for that."),
        "methane": either(
            "Methane that did not arise elsewhere; null if the yard has no factor for it.",
            nothing("No factor."),
            thing(
                "By the yard's own factor.",
                {
                    "kg": _kg("Methane"),
                    "factor": number("The factor", "kg of methane a kg"),
                    "source": text("Where the factor comes from."),
                },
            ),
        ),
    },
)
_MANY = {
    "goes_on": yes("Whether the time still goes on."),
    "loads": count("Number of deliveries."),
    "taken_in_kg": perhaps(_kg("What came in, as far as it is known"), _UNKNOWN),
    "taken_in_measured_kg": _kg("The part of it that was weighed"),
    "loads_without_amount": count("Number of deliveries of which a part is not known, and in no sum."),
    "feedings": count("Number of feedings."),
    "fed_kg": perhaps(_kg("Food of the worms, as far as it is known"), _UNKNOWN),
    "fed_measured_kg": _kg("The part of it that was weighed"),
    "feedings_without_amount": count("Number of feedings of which a part is not known, and in no sum."),
    "harvests": count("Number of harvests."),
    "harvested_kg": perhaps(_kg("What was taken from the beds, as far as it is known"), _UNKNOWN),
    "harvested_measured_kg": _kg("The part of it that was weighed"),
    "harvests_without_amount": count("Number of harvests of which a part is not known, and in no sum."),
    "givings": count("How often something was given out."),
    "given_out_kg": perhaps(_kg("What went to people, as far as it is known"), _UNKNOWN),
    "given_out_measured_kg": _kg("The part of it that was weighed"),
    "givings_without_amount": count("Number of those of which a part is not known, and in no sum."),
    "people": count("Number of people who got some."),
    "waterings": count("Number of waterings."),
    "water_litres": perhaps(number("Water, as far as it is known", "L"), _UNKNOWN),
    "waterings_without_amount": count("Number of waterings whose amount is not known, and in no sum."),
    "heaps_met": count("Number of heaps that met their rule."),
    "heaps_void": count("Number of heaps to which raw material came, so that their heat counts no more."),
    "turnings": count("Number of turnings that count."),
    "days_without_entry": count("Number of days that are over without an entry, a reading by hand or an answer."),
    "days_counted": count("Of how many days."),
    "methane_kg": perhaps(
        _kg("Methane that is taken to be avoided, by the yard's own factor"), "null without a factor"
    ),
}
YARDS = thing(
    "Many yards beside each other.",
    {
        "yards": rows(
            "The yards that could be read, in the order in which they were named.",
            thing(
                "A yard.",
                {
                    "yard": text("Its name."),
                    "time_zone": text("Its time zone, by which days are counted."),
                    "from": day("The first day"),
                    "to": day("The last day, which counts whole"),
                    "us": yes("Whether it counts in lb and gal; the figures here are metric all the same."),
                    **_MANY,
                },
            ),
        ),
        "all_together": thing(
            "The sums of those yards.",
            {**_MANY, "yards_with_a_factor": count("Of how many yards the methane is.")},
        ),
        "unread": rows(
            "The yards that could not be read, and are in no sum.",
            thing("A yard.", {"yard": text("How it was named."), "why": text("Why, in a sentence.")}),
        ),
    },
)
EVERY_REPORT = either(
    "What came in, what became of it, and who got it, in a month or season; with YARDS, a row for each yard.",
    REPORT,
    YARDS,
)
