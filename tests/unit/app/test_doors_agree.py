"""What people write down means the same by command line, page and file: one parser reads it, or refuses it, for all three."""

import pytest

from monitor.app.console.refusals import refusal
from monitor.app.entries.entries import OPTIONS, work_entry
from monitor.app.files.importing import work_meant
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.model.settings import YARD, Bin, Contact, Pile, Probe, Settings, Site
from monitor.model.words import Role
from monitor.model.work import Work, work_from
from monitor.model.work_kinds import KINDS, Where
from monitor.page.forms.work_form import work_wish

AT = 1_790_000_000_000
SETTINGS = Settings(
    site=Site(name="Yard", temperature_unit="degF"),
    piles={"p1": Pile(name="Bay 1"), "p2": Pile(name="Bay 2")},
    bins={"b1": Bin(name="Bin 1")},
    probes={"p1-a": Probe(place="p1", role=Role.CORE, address="p1-a", name="north")},
    contacts={"ann": Contact(name="Ann")},
)


def typed(word, place, told):
    given = dict.fromkeys(("by", "note", "at", "again")) | {
        OPTIONS.get(name, name): text for name, text in told.items()
    }
    return work_entry(SETTINGS, word, place, given, AT).payload


def pressed(kind, place, told):
    ticked = {f"risk_{risk}": "on" for risk in told.get("risk", "").split(",") if risk}
    return work_wish(SETTINGS, place, {"kind": kind.value, **told, **ticked}, told.get("by", ""), AT).payload


def filed(kind, place, told):
    return work_meant(SETTINGS, Work(time=AT, place=place, kind=kind, **told), "work.csv, line 2")


def every_field(row):
    """All that goes with a kind of work, as people write it."""
    unit = {"duration": ("20", "min")}.get(row.dimensions[0].value, ("20", "L")) if row.dimensions else None
    told = {"by": "Ann", "note": "in the rain"}
    told |= {"amount": unit[0], "measure": unit[1]} if unit else {}
    values = {"to": "p2", "probe": "p1-a", "what": "straw", "source": "a stable", "spot": "west"}
    values |= {"worms": "few", "cocoons": "yes", "smell": "earthy", "squeeze": "4"}
    values |= {"moisture": "74", "fines": "30 lb", "middle": "9.0 kg", "overs": "0 lb", "depth": "20 in"}
    values |= {"contact": "ann", "start": "2026-10-05T09:00:00.000Z", "end": "2026-10-07T09:00:00.000Z"}
    values |= {
        "risk": "wormer",
        "refused": "too wet",
        "parts": "leaves=3 bag",
        "lot": "lot-b1-2026-10-01",
        "price": "3 USD",
    }
    values |= {"receiver": "a school", "test": "bean test", "result": "passed"}
    return told | {name: values[name] for name in row.fields if name in values}


@pytest.mark.parametrize("row", KINDS.values(), ids=lambda row: row.word)
def test_the_same_work_is_the_same_event(row):
    place = "p1" if Where.PILE in row.where else "b1" if Where.BIN in row.where else YARD
    told = every_field(row)
    by_command = typed(row.word, place, told)
    if not row.command:  # lots have a command of their own, and no form
        assert pressed(row.kind, place, told) == by_command
    assert filed(row.kind, place, told) == work_from(by_command, AT)
    assert refusal(EventKind.WORK, by_command, SETTINGS) == ""


@pytest.mark.parametrize(
    ("word", "told", "said"),
    [
        ("watered", {"amount": "0.3333", "measure": "furlongs"}, '"furlongs" is no unit'),
        ("watered", {"amount": "a lot", "measure": "L"}, "a lot"),
        ("note", {"note": " "}, "he note is empty; write what you saw"),
    ],
)
def test_what_cannot_be_meant_is_refused_by_each(word, told, said):
    kind = next(row.kind for row in KINDS.values() if row.word == word)

    def by_command():
        return typed(word, "p1", told)

    def by_page():
        return pressed(kind, "p1", told)

    def by_file():
        work = filed(kind, "p1", told)
        return {"time": AT, "place": work.place, "kind": work.kind.value, "note": work.note}

    for door in (by_command, by_page, by_file):
        try:
            wrong = refusal(EventKind.WORK, door(), SETTINGS)
        except MisuseError as fault:
            wrong = str(fault)
        assert said in wrong, door.__name__
