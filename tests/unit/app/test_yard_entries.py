"""Entries about the whole yard on the command line and in files: typed without a place, listed, put right, exported."""

import csv
import io
import re

import pytest
from typed_command import ENTRIES, call, yard_of

yard = yard_of(ENTRIES)
MANURE = ("delivery", "horse", "manure", "3", "yd3", "--from", "Hill stable")


def log(yard, *words, code=0):
    return call(yard, "log", *words, code=code)


def rows(yard, *more):
    return list(csv.DictReader(io.StringIO(call(yard, "export", "work", *more))))


def test_a_delivery_is_typed_without_a_place(yard):
    told = log(yard, *MANURE, "--risk", "wormer", "--risk", "herbicide", "--by", "Ann")
    assert "Written down as 1: delivered 3 yd3 of horse manure from Hill stable, risk of herbicide and wormer, " in told
    (row,) = rows(yard, "--place", "yard")
    assert [row[name] for name in ("place", "kind", "amount", "unit", "what", "from", "risk", "refused", "by")] == [
        "yard", "delivery", "3", "yd3", "horse manure", "Hill stable", "herbicide,wormer", "", "Ann",
    ]  # fmt: skip
    assert "delivered 3 yd3 of horse manure" in log(yard, "list", "yard")
    assert "delivered" not in log(yard, "list", "p1")


def test_the_same_delivery_is_asked_about(yard):
    log(yard, *MANURE)
    told = log(yard, *MANURE[:-1], "hill  stable", code=1)
    assert "Entry 1 already says" in told
    assert "delivered 3 yd3 of horse manure from Hill stable. Did it come once more?" in told
    log(yard, *MANURE, "--again")
    assert len(rows(yard)) == 2


def test_what_was_refused_says_why_and_can_be_put_right(yard):
    told = log(yard, "delivery", "leaves", "40 bags", "--refused", "full of plastic")
    assert "delivered 40 bags of leaves; refused: full of plastic" in told
    assert "1 put right: delivered 40 bags of leaves, risk of plastic; refused" in log(
        yard, "correct", "1", "--risk", "plastic"
    )
    assert "1 put right: delivered 40 bags of leaves, risk of plastic, " in log(yard, "correct", "1", "--refused", "")
    assert "must" not in log(yard, "undo", "yard")
    assert rows(yard) == []


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("delivery",), "Delivered of what?"),
        (("delivery", "leaves"), "Delivered how much?"),
        (("delivery", "leaves", "0 t"), "0"),
        (("delivery", "3", "yd3", "leaves"), '"3" is no material: write that first'),
        (("delivery", "leaves", "2 t", "--what", "chips"), "--what says it already"),
        (("delivery", "leaves", "2 in"), '"delivery" is not told in in'),
        (("delivery", "leaves", "2 t", "--risk", "rats"), '"rats" is no risk of a delivery'),
        (("delivery", "leaves", "2 t", "--to", "p1"), '--to does not go with "delivery"'),
        (("counted", "leaves"), "Counted how much?"),
        (("visitors",), "the note is empty"),
        (("pest", "rats", "--risk", "meat"), '--risk does not go with "pest"'),
        (("turned", "yard"), '"turned" is not done to the whole yard'),
        (("moved", "p1", "--to", "yard"), '"moved" is not done to the whole yard'),
        (("reading", "yard", "131"), 'there is no pile or bin "yard"'),
        (("note", "yard"), "the note is empty"),
    ],
)
def test_what_means_nothing_is_refused(yard, words, says):
    log(yard, "note", "yard", "gate open")
    assert says in log(yard, *words, code=2)
    assert [row["kind"] for row in rows(yard)] == ["note"]


def test_remarks_need_no_quotes_and_no_place(yard):
    log(yard, "visitors", "school", "class,", "24", "children")
    log(yard, "pest", "yard", "rats at bay 2", "--spot", "bay 2")
    log(yard, "note", "yard", "gate repaired")
    log(yard, "counted", "leaves", "20 bags")
    assert [(row["kind"], row["note"]) for row in rows(yard)] == [
        ("visitors", "school class, 24 children"), ("pest", "rats at bay 2"), ("note", "gate repaired"), ("counted", ""),
    ]  # fmt: skip
    assert "counted 0 bags of leaves" in log(yard, "counted", "leaves", "0", "bags"), "none is left"
    assert "No alarm" in call(yard, "status", code=1)


def test_files_bring_them_in_and_old_files_stay_readable(yard):
    (yard / "yard.csv").write_text(
        "time,place,kind,amount,measure,what,from,risk,refused,note\n"
        "2026-06-01T09:00:00Z,yard,delivery,2,t,leaves,a park,Herbicide; plastic,,\n"
        "2026-06-02T09:00:00Z,yard,weather,,,,,,,first frost\n"
    )
    assert "2 pieces of work" in call(yard, "import", yard / "yard.csv")
    assert [(row["kind"], row["risk"]) for row in rows(yard)] == [("delivery", "herbicide,plastic"), ("weather", "")]
    out = call(yard, "export", "work")
    (yard / "again.csv").write_text(out)
    assert "There already: 0 readings and 2 pieces of work" in call(yard, "import", yard / "again.csv")
    assert len(rows(yard)) == 2
    (yard / "old.csv").write_text("time,place,kind,what,squeeze\n2026-06-03T09:00:00Z,b1,inspected,,3\n")
    call(yard, "import", yard / "old.csv")
    assert rows(yard)[-1]["squeeze"] == "3"


@pytest.mark.parametrize(
    ("row", "says", "code"),
    [
        ("p1,delivery,2,t,leaves,", '"delivery" concerns the whole yard; its place is "yard"', 2),
        ("yard,turned,,,,", '"turned" is not done to the whole yard', 2),
        ("yard,delivery,2,t,,", "Delivered of what?", 2),
        ("yard,delivery,2,t,leaves,lice", '"lice" is no risk of a delivery', 1),
    ],
)
def test_rows_that_mean_nothing_are_named(yard, row, says, code):
    log(yard, "note", "yard", "gate open")
    (yard / "bad.csv").write_text(f"time,place,kind,amount,measure,what,risk\n2026-06-01T09:00:00Z,{row}\n")
    assert says in call(yard, "import", yard / "bad.csv", code=code)
    assert [row["kind"] for row in rows(yard)] == ["note"]


def test_a_place_cannot_have_the_id_of_the_whole_yard(tmp_path):
    (tmp_path / "heaptender.toml").write_text('[bins.yard]\nname = "Wall bin"\n')
    assert '"yard" is the whole yard; give the place another id' in call(tmp_path, "status", code=2)


DUTIES = '[contacts.ann]\nname = "Ann"\n[contacts.ben]\nname = "Ben Lee"\norder = 2\n'


@pytest.fixture
def staffed(yard):
    with (yard / "heaptender.toml").open("a") as file:
        file.write(DUTIES)
    return yard


def test_an_absence_says_at_once_when_nobody_is_on_duty(staffed):
    told = log(staffed, "away", "ann", "--from", "in 1 d", "--to", "in 3 d")
    assert "Written down as 1: Ann away from " in told
    assert "Nobody is on duty" not in told
    told = log(staffed, "away", "ben", "lee", "--to", "in 2 d", "--note", "at the lake")
    assert "Ben Lee away from " in told
    assert "Nobody is on duty from tomorrow " in told
    assert "would be told all the same." in told
    assert "Nobody is on duty from tomorrow " in call(staffed, "status", "--leaving", code=1)
    assert "Nobody is on duty from tomorrow " in call(staffed, "status", code=1)
    assert [(row["kind"], row["contact"]) for row in rows(staffed)] == [("away", "ann"), ("away", "ben")]


def test_an_absence_is_put_right_and_taken_back(staffed):
    log(staffed, "away", "ann", "--to", "in 3 d")
    assert "put right: Ann away from " in log(staffed, "correct", "1", "--to", "in 5 d")
    log(staffed, "away", "ben", "--from", "in 4 d", "--to", "in 6 d")
    assert "Nobody is on duty" in call(staffed, "status", "--leaving", code=1)
    assert "1 taken back: Ann away from " in log(staffed, "undo", "1")
    assert "Nobody is on duty" not in call(staffed, "status", "--leaving", code=1)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("away",), "Who is away?"),
        (("away", "carl", "--to", "in 3 d"), 'There is no contact "carl"; there are ann, ben.'),
        (("away", "ann"), "Away until when?"),
        (("away", "ann", "--to", "yesterday 18:00"), "That absence is over already"),
        (("away", "ann", "--from", "in 4 d", "--to", "in 3 d"), "An absence ends after it begins"),
        (("away", "ann", "--to", "in 400 d"), "That is longer than a year"),
        (("away", "ann", "--to", "soon"), "--to: 'soon' is no time"),
        (("away", "ann", "--to", "p2"), "is no time"),
    ],
)
def test_an_absence_that_means_nothing_is_refused(staffed, words, says):
    assert says in log(staffed, *words, code=2)


def test_a_yard_without_contacts_has_nobody_to_be_away(yard):
    assert "the configuration has none" in log(yard, "away", "ann", "--to", "in 3 d", code=2)


def test_absences_go_out_and_in_with_files(staffed):
    log(staffed, "away", "ann", "--to", "in 3 d")
    (staffed / "out.csv").write_text(call(staffed, "export", "work"))
    assert "There already: 0 readings and 1 piece" in call(staffed, "import", staffed / "out.csv")
    (staffed / "bad.csv").write_text(
        "time,place,kind,contact,start,end\n2026-06-01T09:00:00Z,yard,away,ann,2026-06-03T09:00:00Z,2026-06-02T09:00:00Z\n"
    )
    assert "An absence ends after it begins" in call(staffed, "import", staffed / "bad.csv", code=2)
    (staffed / "gone.csv").write_text(
        "time,place,kind,contact,start,end\n2026-06-01T09:00:00Z,yard,away,zoe,2026-06-02T09:00:00Z,2026-06-03T09:00:00Z\n"
    )
    call(staffed, "import", staffed / "gone.csv")
    assert "zoe away from Tue 2 Jun 05:00 to Wed 3 Jun 05:00" in log(staffed, "list", "yard")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("visitors", "p1", "school"), "write `heaptender log visitors school`, or `heaptender log note p1 school`"),
        (("pest", "Bay 1", "rats"), "`heaptender log pest rats --spot 'Bay 1'`"),
        (("weather", "b1"), '"weather" concerns the whole yard, not Wall bin'),
    ],
)
def test_a_remark_about_the_yard_that_names_a_place_first_is_refused(yard, words, says):
    assert says in log(yard, *words, code=2)
    assert "Written down as 1: visitors: p1 was shown to a class" in log(yard, "visitors", "p1 was shown to a class")


def test_an_amount_without_a_unit_is_asked_for_in_the_unit_that_is_usual_or_was_used_last(yard):
    assert "60 of what? Write the unit too, such as 60 lb." in log(yard, "delivery", "grounds", "60", code=2)
    assert "3 of what? Write the unit too, such as 3 lb." in log(yard, "fed", "b1", "3", code=2)
    log(yard, "delivery", "leaves", "4 bags")
    log(yard, "delivery", "grounds", "2 kg")
    assert "such as 60 bags." in log(yard, "delivery", "Leaves", "60", code=2), "leaves came in bags"
    assert "such as 5 kg." in log(yard, "delivery", "straw", "5", code=2), "the last delivery came in kg"
    log(yard, "watered", "b1", "3 L")
    assert "such as 3 L." in log(yard, "watered", "b1", "3", code=2)


def test_a_forecast_is_typed_put_right_and_exported(yard):
    told = log(yard, "forecast", "--high", "97", "--low", "21C", "--by", "Ann")
    assert re.search(r"weather: forecast for \w{3} \d+ \w{3}: high 97 °F, low 21 °C, ", told)
    log(yard, "correct", "1", "--high", "95")
    (row,) = rows(yard, "--place", "yard")
    assert [row[name] for name in ("kind", "high", "low", "by")] == ["weather", "95 degF", "21 degC", "Ann"]
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", row["day"])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--high", "150"), "No air has a high of 150 °F"),
        (("--high", "97", "--low", "99"), "Its low, 99 °F, is above its high, 97 °F"),
        (("--high", "97", "--day", "yesterday"), "is over; a forecast is for today or a day to come"),
        (("--high", "97", "--day", "soon"), '--day: "soon" is no day; write tomorrow, Jul 20 or 2026-07-20.'),
        (("--high", "mild"), '"mild" is no temperature'),
    ],
)
def test_a_forecast_that_cannot_be_is_refused_in_words(yard, words, said):
    assert said in log(yard, "forecast", *words, code=2)
    assert not (yard / "data").exists(), "nothing was written down"
