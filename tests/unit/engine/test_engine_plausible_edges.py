"""Where each question about a figure begins: the greatest figure that nobody is asked about, and the least that somebody is."""

import pytest

from monitor.engine.asking.entered import Entered
from monitor.engine.asking.implausible_measures import hardly_so_deep_in
from monitor.engine.asking.left_over import left_over
from monitor.engine.asking.logged_past import past_of
from monitor.engine.asking.plausible import implausible
from monitor.engine.asking.spot_doubts import spot_doubt
from monitor.engine.asking.yard_sizes import BedSpace, YardSizes, depth_words, mass_words, volume_words
from monitor.material import Weighed
from monitor.model.amounts import Dimension, unit_named
from monitor.model.settings import YARD, Bin, Pile, Settings, Site
from monitor.model.times import HOUR_MS
from monitor.model.work import Work, WorkKind

T0 = 1_790_000_000_000
SETTINGS = Settings(
    site=Site(name="Yard"), piles={"p1": Pile(name="Bay 1")}, bins={"b1": Bin(name="Wall bin"), "b2": Bin(name="Box")}
)
SIZES = YardSizes({"b1": BedSpace(surface_mm2=1_000_000, rim_mm=400), "b2": BedSpace(depth_mm=250)})
D = WorkKind


def work(kind, amount="", place="b1", at=0, **more):
    number, _, unit = amount.partition(" ")
    known = unit_named(unit).id if unit else ""
    return Work(time=T0 + at * HOUR_MS, place=place, kind=kind, amount=number, measure=unit, unit=known, **more)


def asked(entry, *before):
    past = past_of(enumerate(before, 1), SIZES, entry)
    return " ".join(implausible(Entered(work=entry, settings=SETTINGS, sizes=SIZES, past=past)))


def fed(amount, at=9):
    return work(D.FED, amount, at=at, what="scraps")


def look(depth, at=0, place="b1"):
    return work(D.INSPECTED, at=at, depth=depth, place=place)


def harvest(amount="", at=0, **more):
    return work(D.HARVESTED, amount, at=at, **more)


FED = (fed("3 kg", 0), fed("4 kg", 1))
LEAVES = work(D.DELIVERY, "100 kg", YARD, what="leaves")
BAGS = work(D.DELIVERY, "20 bags", YARD, what="leaves")
WHOLE = harvest("80 kg", moisture="75")


@pytest.mark.parametrize(
    ("fine", "doubted", "before", "question"),
    [
        # A bed of 400 L: nothing in it is heavier than water, and loose material takes up twice the room.
        (harvest("400 kg"), harvest("401 kg"), (), "Wall bin holds 400 kg at most"),
        (work(D.WATERED, "800 L"), work(D.WATERED, "801 L"), (), "Wall bin holds 800 L at most"),
        # Six times the most of before, or thirty times the only one.
        (fed("23.9 kg"), fed("24 kg"), FED, "6 times as much as the most of before (4 kg, of the last 2 times)."),
        (fed("89 kg"), fed("90 kg"), FED[:1], "30 times as much as the most of before (3 kg, of once)."),
        # A number as always in a unit as never.
        (fed("2.9 lb"), fed("3 lb"), FED, "always told in kg before, from 3 to 4; this is 3 lb"),
        (fed("4.1 lb"), fed("4 lb"), FED, "always told in kg before"),
        (fed("5 lb"), fed("3.5 lb"), FED, "from 3 to 4"),
        # More than is in stock by more than two weighings differ.
        (
            work(D.ADDED, "105 kg", "p1", at=1, what="leaves"), work(D.ADDED, "105.1 kg", "p1", at=1, what="leaves"),
            (LEAVES,), "By the record 100 kg of leaves are left; this takes 105.1 kg.",
        ),
        # 3 lb of worms on a square foot: 14.6 kg on a square metre.
        (work(D.SAMPLED, "3 lb", what="worms"), work(D.SAMPLED, "3.1 lb", what="worms"), (), "1 ft² carries 1.36 kg"),
        (work(D.BEDDED, "14.6 kg", what="Worms "), work(D.BEDDED, "14.7 kg", what="Worms "), (), "Wall bin carries 14.6 kg"),
        # A count of three times all that ever came.
        (
            work(D.COUNTED, "60 bags", YARD, at=1, what="leaves"), work(D.COUNTED, "61 bags", YARD, at=1, what="leaves"),
            (BAGS,), "No more than 20 bags of leaves ever came in",
        ),
        # What goes onto the screen is no heavier than its harvest, and has no more dry matter.
        (work(D.SCREENED, "84 kg", at=1), work(D.SCREENED, "85 kg", at=1), (WHOLE,), "h1 weighed 80 kg"),
        (
            work(D.SCREENED, at=1, moisture="50", fines="46 kg"), work(D.SCREENED, at=1, moisture="50", fines="46.2 kg"),
            (WHOLE,), "By dry matter 23 kg came off the screen, and h1 had 20 kg.",
        ),
        # Moistures of castings, of what is screened, of lots and of samples.
        (harvest(moisture="30"), harvest(moisture="29"), (), "castings fresh from a bed have 60 to 85 %"),
        (harvest(moisture="92"), harvest(moisture="93"), (), "Is the moisture right?"),
        (work(D.SCREENED, moisture="10"), work(D.SCREENED, moisture="9"), (), "what goes onto a screen has 35 to 45 %"),
        (work(D.SCREENED, moisture="75"), work(D.SCREENED, moisture="76"), (), "what goes onto a screen"),
        (work(D.SAMPLED, moisture="5"), work(D.SAMPLED, moisture="4"), (), "heaps and beds have 40 to 85 %"),
        (work(D.SAMPLED, moisture="95"), work(D.SAMPLED, moisture="96"), (), "heaps and beds have 40 to 85 %"),
        (work(D.LOT, moisture="5"), work(D.LOT, moisture="4"), (), "castings and compost that are kept have 30 to 60 %"),
        (work(D.LOT, moisture="85"), work(D.LOT, moisture="86"), (), "castings and compost that are kept"),
        # It dries while it lies there: five points are the measuring.
        (
            work(D.SCREENED, at=1, moisture="55"), work(D.SCREENED, at=1, moisture="56"),
            (harvest("80 kg", moisture="50"),), "h1 had 50 % when it was harvested",
        ),
        # A bed a third as deep, or three times, as at the last look; deeper than its rim.
        (look("10.1 cm", 1), look("10 cm", 1), (look("30 cm"),), "last look; now 10 cm. Is the depth right?"),
        (look("29.9 cm", 1), look("30 cm", 1), (look("10 cm"),), "was 10 cm deep at the last look; now 30 cm."),
        (look("40 cm"), look("40.1 cm"), (), "its rim is at 40 cm. Was 4.01 cm meant?"),
        (look("1 m", place="b2"), look("101 cm", place="b2"), (), "no bed is 100 cm deep. Was 10.1 cm meant?"),
        # A layer is no thicker than the bed, by the last look or else by the configuration.
        (harvest("9 kg", 1, depth="30 cm"), harvest("9 kg", 1, depth="30.1 cm"), (look("30 cm"),), "is 30 cm deep; this layer"),
        (
            harvest("9 kg", 1, depth="25 cm", place="b2"), harvest("9 kg", 1, depth="26 cm", place="b2"), (),
            "The bed of Box is 25 cm deep; this layer is 26 cm.",
        ),
        (work(D.BEDDED, "40 cm"), work(D.BEDDED, "41 cm"), (), "its rim is at 40 cm. Was 4.1 cm meant?"),
        # Above 12 ft a heap burns more easily.
        (work(D.BUILT, "365.8 cm", "p1"), work(D.BUILT, "365.9 cm", "p1"), (), "A heap 365.9 cm high would be above 366 cm"),
    ],
)  # fmt: skip
def test_a_question_begins_where_it_is_said_to(fine, doubted, before, question):
    assert asked(fine, *before) == ""
    assert question in asked(doubted, *before)


@pytest.mark.parametrize(
    ("entry", "before", "ask"),
    [
        (fed("80 kg"), FED, "Was 8 kg meant?"),  # a tenth is half of the most of before: a slipped point
        (fed("81 kg"), FED, "Was 0.81 kg meant?"),
        (fed("800 kg"), FED, "Was 8 kg meant?"),
        (fed("801 kg"), FED, "Is the figure or the unit a slip?"),
        (harvest(moisture="0.5"), (), "Was 50 % meant?"),
        (harvest(moisture="1"), (), "Is the moisture right?"),
        (harvest(moisture="3"), (), "Was 30 % meant?"),
        (harvest(moisture="2.9"), (), "Is the moisture right?"),
        (look("3 cm", 1), (look("30 cm"),), "Was 30 cm meant?"),
        (look("1.6 cm", 1), (look("30 cm"),), "Was 16 cm meant?"),
        (look("1.5 cm", 1), (look("30 cm"),), "Is the depth right?"),
        (look("6 cm", 1), (look("30 cm"),), "Is the depth right?"),
        (look("5.9 cm", 1), (look("30 cm"),), "Was 59 cm meant?"),
        (look("39 cm", 1), (look("3 cm"),), "Was 3.9 cm meant?"),
        (look("4 m"), (), "Was 0.4 m meant?"),
        (look("4.1 m"), (), "Is the figure or the unit a slip?"),
    ],
)
def test_a_slipped_point_is_offered_where_the_figure_would_fit_then(entry, before, ask):
    assert asked(entry, *before).endswith(ask)


class ByTheLitre:
    """Weighs a litre as half a kilogram."""

    def weigh(self, material, amount):
        if amount.dimension is Dimension.LENGTH:
            return None
        return Weighed(amount.base if amount.dimension is Dimension.MASS else amount.base // 2)


def test_masses_are_compared_with_volumes_by_what_these_weigh_and_volumes_with_volumes_alone():
    sizes = YardSizes(scales=ByTheLitre())

    def said(entry, *before):
        past = past_of(enumerate(before, 1), sizes, entry)
        return " ".join(implausible(Entered(work=entry, settings=SETTINGS, sizes=sizes, past=past)))

    litres = (fed("8 L", 0), fed("7 L", 1))
    assert said(fed("23.9 kg"), *litres) == ""
    assert "6 times as much as the most of before (8 L, of the last 2 times)" in said(fed("24 kg"), *litres)
    assert said(fed("900 L"), *FED) == "", "nobody weighed it"
    assert said(fed("900 kg"), work(D.FED, "3 cm", what="scraps")) == ""


def test_a_unit_is_doubted_by_two_entries_in_another_one_of_its_kind():
    assert asked(fed("3 lb"), FED[0]) == "", "one may have been the slip"
    assert asked(fed("3 L"), *FED) == "", "a volume is no slip for a mass"


def test_what_nobody_weighed_or_whose_moisture_nobody_knows_is_no_gap():
    assert asked(work(D.SCREENED, "85 L", at=1), harvest("80 L")) == ""
    for moisture in ("", "wet"):
        whole = harvest("80 kg", moisture=moisture)
        assert asked(work(D.SCREENED, at=1, moisture="50", fines="200 kg"), whole) == ""
        assert asked(work(D.SCREENED, at=1, moisture=moisture, fines="200 kg"), WHOLE) == ""


def test_a_screening_of_what_was_never_harvested_here_is_compared_with_nothing():
    assert asked(work(D.SCREENED, "80 kg", at=1), harvest("10 kg", place="b2")) == ""
    parts = work(D.SCREENED, at=1, what="h9", overs="5 kg")
    assert "5 kg of h9/overs are left" in asked(work(D.BEDDED, "9 kg", at=2, what="h9/overs"), parts)


def test_a_cover_uses_material_up_and_one_is_said_as_one():
    cover = work(D.COVERED, "20 bags", "p1", 1, what="leaves")
    assert "no leaves is left; this takes 1 bag." in asked(work(D.ADDED, "1 bag", "p1", 2, what="leaves"), BAGS, cover)


def test_only_a_delivery_goes_by_its_letter_and_number():
    used = work(D.BUILT, "5 kg", "p1", 1, what="leaves")
    assert asked(work(D.ADDED, "500 kg", "p1", 2, what="d2"), LEAVES, used) == "", "entry 2 is no delivery"
    assert "By the record 95 kg of leaves are left" in asked(work(D.ADDED, "500 kg", "p1", 2, what="d1"), LEAVES, used)


def test_only_what_is_told_as_a_height_is_one():
    assert (
        asked(work(D.BUILT, "9000 kg", "p1"))
        == asked(work(D.BUILT, "9000 L", "p1"))
        == asked(work(D.BUILT, "", "p1"))
        == ""
    )


def test_a_look_speaks_for_the_depth_of_a_bed_for_sixty_days():
    at = 60 * 24
    assert asked(look("10 cm", at), look("30 cm"))
    assert asked(look("10 cm", at + 1), look("30 cm")) == ""
    assert asked(harvest("9 kg", at, depth="31 cm"), look("30 cm"))
    assert asked(harvest("9 kg", at + 1, depth="31 cm"), look("30 cm")) == ""


def test_two_lengths_alike_in_number_and_unit_are_no_slip():
    assert asked(look("30 cm", 1), look("30 cm")) == asked(look("12 in", 1), look("30 cm")) == ""
    assert asked(look("30 in", 1), look("30 cm")) == (
        "The bed of Wall bin was 30 cm deep at the last look; now 30 in. Is the unit right?"
    )


def test_only_the_bed_that_a_layer_is_taken_from_is_compared():
    assert asked(work(D.BEDDED, at=1, depth="31 cm", what="straw"), look("30 cm")) == "", "a layer laid on top"


def test_worms_by_no_weight_and_in_a_bin_of_unknown_size_are_believed():
    assert asked(work(D.BEDDED, what="worms")) == ""
    assert asked(work(D.BEDDED, "90 kg", "b2", what="worms")) == ""
    assert asked(work(D.BEDDED, "90 kg", what="straw")) == ""
    assert asked(work(D.SAMPLED, "90 kg", what="straw")) == ""
    assert "1 ft² carries" in asked(work(D.SAMPLED, "90 kg", "b2", what="worms"))


def test_the_two_newest_dozens_alike_are_looked_into():
    many = [fed("100 kg", -1000)] + [fed("3 kg", number) for number in range(24)]
    assert "of the last 24 times" in asked(fed("40 kg", 99), *many)
    assert asked(fed("40 kg", 99), *many[:-1]) == "", "the great one is among the last 24 then"


def test_a_screening_is_of_the_newest_harvest_of_its_bin_or_of_the_one_it_names():
    heavy, light = harvest("80 kg"), harvest("10 kg", 1)
    assert "h2 weighed 10 kg" in asked(work(D.SCREENED, "80 kg", at=2), heavy, light)
    assert asked(work(D.SCREENED, "80 kg", at=2, what="h1"), heavy, light) == ""
    assert "h1 weighed 80 kg" in asked(work(D.SCREENED, "85 kg", at=2, what="h1"), heavy, light)
    assert asked(work(D.SCREENED, "80 kg", at=2), heavy, harvest("10 kg", 1, place="b2")) == ""
    assert asked(work(D.SCREENED, "80 kg", at=2, what="h2/overs"), heavy, light) == "", "a part, screened again"


def test_what_came_off_the_screen_is_in_stock_under_its_own_name():
    parts = work(D.SCREENED, "70 kg", at=1, moisture="40", fines="40 kg", overs="5 kg")
    assert "5 kg of h1/overs are left" in asked(work(D.BEDDED, "9 kg", at=2, what="h1/overs"), WHOLE, parts)
    assert asked(work(D.BEDDED, "9 kg", at=2, what="h1/fines"), WHOLE, parts) == ""
    assert asked(work(D.BEDDED, "9 kg", at=2, what="h1/middle"), WHOLE, parts) == "", "nobody weighed that"


@pytest.mark.parametrize(
    ("words", "metric", "us"),
    [
        (mass_words, (19_940, "19.9 kg"), (19_940, "44 lb")),
        (mass_words, (20_000, "20 kg"), (9_026, "19.9 lb")),
        (depth_words, (199, "19.9 cm"), (508, "20 in")),
        (volume_words, (450_400, "450 L"), (37_854, "10 gal")),
    ],
)
def test_from_twenty_on_a_size_is_said_in_whole_numbers(words, metric, us):
    assert words(metric[0], us=False) == metric[1]
    assert words(us[0], us=True) == us[1]


def test_what_a_bin_holds_is_its_surface_up_to_its_rim_or_to_a_metre():
    assert BedSpace(surface_mm2=1_000_000, rim_mm=400).volume_ml == 400_000
    assert BedSpace(surface_mm2=1_000_000).volume_ml == 1_000_000
    assert BedSpace(rim_mm=400).volume_ml is None


def test_a_thermometer_reaches_six_feet_into_a_heap_and_a_bin_to_its_rim():
    def doubted(place, bed, depth_mm):
        return " ".join(hardly_so_deep_in(SETTINGS, place, bed, depth_mm))

    assert doubted("p1", None, 1829) == ""
    assert doubted("p1", None, 1830).startswith("183 cm is deep for a thermometer: nobody reaches 183 cm into a heap.")
    assert doubted("b1", BedSpace(rim_mm=400), 400) == ""
    assert "Wall bin can be 40 cm deep" in doubted("b1", BedSpace(rim_mm=400), 401)
    assert doubted("b1", BedSpace(), 1000) == ""
    assert "Wall bin can be 100 cm deep" in doubted("b1", None, 1001)


# What is left of a material in one unit ---------------------------------------------------------------------------


def test_what_is_left_is_counted_on_from_the_last_count():
    came, used = work(D.DELIVERY, "20 bags", YARD, what="Leaves"), work(D.BUILT, "18 bags", "p1", 1, what="leaves ")
    assert left_over([used, came], " leaves") == "2 bags"
    assert left_over([came, used, work(D.ADDED, "9 bags", "p1", 2, what="leaves")], "leaves") == ""
    later = work(D.DELIVERY, "5 bags", YARD, 3, what="leaves")
    assert left_over([came, used, work(D.ADDED, "9 bags", "p1", 2, what="leaves"), later], "leaves") == "5 bags"
    assert left_over([came, work(D.COUNTED, "7 bags", YARD, 1, what="leaves"), later], "leaves") == "12 bags"
    assert left_over([came, work(D.DELIVERY, "9 bags", YARD, 1, what="leaves", refused="wet")], "leaves") == "20 bags"


def test_nothing_is_left_to_be_said_once_an_amount_is_missing_or_of_another_unit():
    came = work(D.DELIVERY, "20 bags", YARD, what="leaves")
    assert left_over([came, work(D.BUILT, "5 kg", "p1", 1, what="leaves")], "leaves") == ""
    assert left_over([came, work(D.BUILT, "", "p1", 1, what="leaves")], "leaves") == ""
    assert left_over([came, work(D.BUILT, "", "p1", 1, parts="straw=2 kg; leaves=5 bag")], "leaves") == "15 bags"
    assert left_over([came, work(D.TURNED, "", "p1", 1, what="leaves")], "leaves") == "20 bags"


# Names of spots ---------------------------------------------------------------------------------------------------


def test_a_spot_is_doubted_by_the_list_of_its_place_or_by_its_likeness():
    assert spot_doubt(SETTINGS, "p1", "", ["west"]) == ""
    assert spot_doubt(SETTINGS, "p1", "West ", ["west"]) == ""
    assert spot_doubt(SETTINGS, "p1", "wset", ["", "west"]) == (
        'Bay 1: nothing was logged at "wset" before, but at "west". Is the spot right?'
    )
    assert spot_doubt(SETTINGS, "p1", "row 2", ["row 1"]) == "", "other numbers are other spots"
    assert spot_doubt(SETTINGS, "p1", "row 1 wset", ["row 2 west", "row 1 west"]).count('at "row 1 west"') == 1
    assert spot_doubt(SETTINGS, "p1", "north", ["west"]) == "", "little is alike there"
