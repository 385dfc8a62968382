"""The JSON of commands that look after the program itself: check, restore, pack, unpack, reload, listen."""

from monitor.model.events import EventKind
from monitor.model.quarantine import SetAside
from monitor.model.units import Quantity
from tests.tools.schemas.shapes import (
    by_name,
    count,
    either,
    nothing,
    perhaps,
    rows,
    text,
    thing,
    time,
    whole,
    word,
    yes,
)

CHECK = thing(
    "What was looked at and how it is.",
    {
        "ok": yes("Whether all is well."),
        "configuration": rows("What is wrong with the configuration, in sentences.", text("A problem.")),
        "connections": rows(
            "What was tried.",
            thing(
                "One check.",
                {
                    "what": text("What was looked at."),
                    "ok": yes("Whether it is well."),
                    "words": text('The fault and its remedy, or a remark; "" if there is nothing to say.'),
                    "warning": yes("Whether it deserves a look though it is well."),
                },
            ),
        ),
    },
)
_FAULTS = rows("What is damaged in the backup, in sentences.", text("A fault."))
RESTORE = either(
    "What came of a backup.",
    thing(
        "It is damaged and was not taken; --anyway takes it.",
        {"restored": nothing("Null: nothing was restored."), "faults": _FAULTS},
    ),
    thing(
        "It is in its place.",
        {
            "restored": text("The backup."),
            "until": perhaps(time("Up to when its record goes"), "null if it is empty"),
            "old": perhaps(text("Where the journal lies that was there."), "null if none was"),
            "missing": either(
                "What the old journal has and the backup lacks; null if there was none, or it cannot be read.",
                nothing("Nobody knows of anything."),
                thing(
                    "What it lacks.",
                    {
                        "until": time("Up to when the old record went"),
                        "readings": count("Number of readings."),
                        "events": by_name("Number of other events, by their kind.", count("Their number."), EventKind),
                    },
                ),
            ),
            "beside": rows("Files that came back with it.", text("A file.")),
            "faults": _FAULTS,
            "not_verified": rows("What nobody can verify, in words.", text("A part of it.")),
            "photos": thing(
                "The photos beside it.",
                {
                    "came": count("Number of photos that came back."),
                    "missing": count("Number of photos that it names and that are nowhere."),
                    "trouble": text('Why they could not be brought back; "" if they could.'),
                },
            ),
        },
    ),
)
PACK = thing(
    "The file into which the yard was packed.",
    {
        "file": text("The file."),
        "bytes": whole("Its size", "bytes"),
        "files": count("Number of files in it."),
        "elsewhere": rows("Files in it that do not lie in the yard's own folders.", text("A file.")),
    },
)
UNPACK = thing(
    "The yard that was unpacked.",
    {
        "site": text("The yard's name."),
        "packed": time("When it was packed"),
        "configuration": text("The configuration file."),
        "data": text("The data folder."),
        "until": perhaps(time("Up to when its record goes"), "null if it is empty"),
        "elsewhere": rows(
            "Files to put in place by hand.",
            thing(
                "A file.",
                {"lies": text("Where it lies now."), "belongs": text("Where the configuration looks for it.")},
            ),
        ),
        "trouble": text('Why the configuration cannot be used here yet; "" if it can.'),
    },
)
RELOAD = thing(
    "Whether the daemon took its configuration file anew.",
    {
        "running": yes("Whether a daemon runs."),
        "taken": yes("Whether it took the file."),
        "in_force_since": perhaps(time("When it read the configuration that is in force"), "null if that is not known"),
        "words": rows("What happened, in sentences.", text("A sentence.")),
    },
)
_REFUSED = {
    "set_aside": word("Why it would be set aside.", SetAside),
    "detail": text("The same for a person."),
}
LISTEN = either(
    "What arrives: messages, and connections that come and go.",
    thing(
        "A message.",
        {
            "source": text("The source."),
            "origin": text("Where in the source it came from, such as its topic."),
            "received": time("When it came"),
            "raw": text("The message; bytes that are no UTF-8 as escapes."),
            "values": rows(
                "What is in it.",
                either(
                    "A value.",
                    thing(
                        "A reading.",
                        {
                            "probe": text("The probe."),
                            "place": text("The name of its place."),
                            "quantity": word("What it measures.", Quantity),
                            "shown": text("The value with its unit, calibrated, as people read it."),
                            "time": time("When it was taken"),
                            "own_time": yes("Whether the message says that; else its arrival counts."),
                        },
                    ),
                    thing(
                        "A value that would be set aside.",
                        _REFUSED | {"address": text("The address of the value in its message.")},
                    ),
                    thing("A part that is not understood.", _REFUSED),
                ),
            ),
        },
    ),
    thing(
        "A connection that is made or lost.",
        {"source": text("The source."), "up": yes("Whether it is connected."), "why": text('Why not; "" if it is.')},
    ),
)
