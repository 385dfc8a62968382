"""`recipe`: amounts as people type them, an answer in words and as JSON, and the heap in the log."""

import json
import re

import pytest
from typed_command import ENTRIES, call, typed, yard_of

from monitor.app.command import SUMMARIES
from monitor.mix import known_feedstocks

yard = yard_of(ENTRIES)
metric = yard_of(ENTRIES.replace('"degF"', '"degC"'))
OWN = "material,moisture,carbon,nitrogen,cn,density,ash,source\ngrass,77,50,3.8,,,,a laboratory\nleaves,38,,0.9,54,120,,\n"


@pytest.fixture(autouse=True)
def nowhere(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("HEAPTENDER_CONFIG", raising=False)


def mix(*words, code=0):
    return json.loads(typed("recipe", *words, "--json", code=code))


def test_the_answer_in_the_measures_of_a_metric_yard(metric):
    told = call(
        metric, "recipe", "--all", "stable litter=400 kg", "--some", "leaves=6 m3", "--some", "coffee grounds=60 kg",
        "--bay", "1.5 x 1.5 m",
    )  # fmt: skip
    assert told.startswith("This mix will do, though not well: C/N 39, where 25 to 35 is better.\n")
    assert "  stable litter: 400 kg, 1.0 m³ loose\n" in told
    assert "  coffee grounds: 60 kg, 71.5 L loose\n" in told
    assert "Heap: 1.9 m³ settled, 0.9 m high in that bay; big enough to heat\n" in told
    assert "all there is of coffee grounds (60 kg)" in told
    assert "  1. leaves, " in told
    assert "Hay, straw and manure can carry weed killer" in told


def test_the_answer_in_the_measures_of_a_us_yard(yard):
    told = call(yard, "recipe", "--all", "straw=100 lb", "--some", "laying-hen manure=60 lb", "--bay", "5 x 5 ft")
    assert "  straw: 100 lb, 13.3 ft³ loose" in told
    assert re.search(r"^  water: [0-9.]+ gal$", told, re.MULTILINE)
    assert re.search(r"^  1. straw, [0-9.]+ lb \([0-9.]+ ft³\), and [0-9.]+ gal of water over it$", told, re.MULTILINE)
    assert "lb/yd³ settled" in told
    assert "ft high in that bay; too small to stay hot: 26.8 ft³ is the least" in told


def test_the_json_is_what_scripts_rely_on():
    found = mix("--all", "grass=100 kg", "--some", "leaves=200 kg", "--cn", "30", "--moisture", "40..65")
    assert found["fits"] is True
    assert {"parts", "cn", "moisture", "bulk_density_kg_m3", "water_l", "binding"} <= set(found)
    assert found["cn"] == 30
    assert found["parts"][0] == {"material": "grass", "mass_kg": 100, "volume_l": pytest.approx(490.196)}
    assert sum(part["mass_kg"] for part in found["parts"]) == pytest.approx(
        sum(part["mass_kg"] for layer in found["layers"] for part in layer["parts"])
    )


def test_the_figures_of_ones_own_come_first(tmp_path):
    (tmp_path / "own.csv").write_text(OWN)
    found = mix(
        "--materials", "own.csv", "--all", "grass=100 kg", "--some", "leaves", "--cn", "30", "--moisture", "40..65"
    )  # fmt: skip
    # The contract's check value for these figures.
    assert found["parts"][1]["mass_kg"] == pytest.approx(109.92, abs=0.01)
    assert found["bulk_density_kg_m3"] is None
    told = typed("recipe", "--materials", "own.csv", "--list")
    assert "grass: moisture 77 %, nitrogen 3.8 %, C/N 13\n    a laboratory\n" in told
    assert "straw: " in told


def test_a_volume_is_weighed_by_the_density():
    by_volume = mix("--all", "leaves=1 m3", "--some", "grass")
    by_weight = mix("--all", "leaves=120 kg", "--some", "grass")
    assert by_volume == by_weight


CONTAINERS = """
[containers.barrow]
volume = "85 L"
tare = "14 kg"
full = { Leaves = ["24 kg", "26 kg"] }
[containers.bucket]
volume = "5 gal"
"""
with_barrows = yard_of(ENTRIES.replace('"degF"', '"degC"') + CONTAINERS)


def test_amounts_are_given_and_taken_in_the_yards_containers(with_barrows):
    told = call(with_barrows, "recipe", "--all", "stable litter=5 barrows", "--some", "leaves=20 barrows")
    # 5 x 85 L at 400 kg/m³; a barrow of leaves was weighed at 11 kg.
    assert "  stable litter: 170 kg, 425 L loose, about 5 barrows\n" in told
    assert re.search(r"^  leaves: [0-9.]+ kg, [0-9]+ L loose, [0-9.]+ barrows$", told, re.MULTILINE)
    assert " barrows)" in told.split("From the bottom up:")[1]
    one = call(with_barrows, "recipe", "--all", "stable litter=1 barrow", "--some", "leaves")
    assert "  stable litter: 34 kg, 85 L loose, about 4.5 buckets\n" in one


def test_where_nothing_fits_it_says_what_would():
    told = typed("recipe", "--all", "coffee grounds=100 kg", "--some", "leaves=20 kg", code=1)
    assert told.startswith("No mix of these fits: too wet even so, 73 % (at most 65 %). This is the nearest.\n")
    assert "It would fit with 35.6 kg more of leaves." in told
    found = mix("--all", "coffee grounds=100 kg", "--some", "leaves=20 kg", code=1)
    assert found["fits"] is False
    assert found["mending"] == {"material": "leaves", "mass_kg": pytest.approx(35.556)}
    assert {"what": "moisture", "side": "most", "value": 65, "broken": True} in found["binding"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--all", "cardboard=40 kg"], "too much carbon, C/N 560 (at most 40)"),
        (["--all", "laying-hen manure=40 kg", "--moisture", "40..80"], "too much nitrogen, C/N 6.0 (at least 20)"),
        (
            ["--all", "cattle manure=100 kg", "--moisture", "40..85", "--cn", "10..40", "--density-max", "600"],
            "too heavy",
        ),
    ],
)
def test_each_limit_that_is_broken_has_its_words(words, said):
    assert said.replace("6.0", "6") in typed("recipe", *words, code=1)


def test_a_density_may_be_given_as_the_yard_reads_it():
    asked = ("--all", "grass=100 kg", "--some", "leaves")
    pounds, kilos = mix(*asked, "--density-max", "280 lb/yd3"), mix(*asked, "--density-max", "166.12")
    assert pounds["bulk_density_kg_m3"] == pytest.approx(166.12, abs=0.02)
    assert pounds["bulk_density_kg_m3"] == pytest.approx(kilos["bulk_density_kg_m3"], abs=0.02)
    assert mix(*asked)["bulk_density_kg_m3"] > 170


def test_a_rich_mix_that_only_coarse_wood_balances_is_called_so():
    told = typed("recipe", "--all", "laying-hen manure=200 kg", "--some", "wood chips")
    assert "C/N 6 without the coarse wood, so expect ammonia" in told


def test_coarse_wood_is_told_of():
    told = typed("recipe", "--all", "grass=1000 kg", "--some", "wood chips=400 kg", "--moisture", "40..75")
    assert "; 17 without the coarse wood, whose carbon hardly counts while it is hot" in told


def test_a_heap_that_may_burn_and_one_that_is_too_small_are_told_of():
    words = ("recipe", "--all", "grass=400 kg", "--some", "leaves")
    told = typed(*words, "--bay", "150 cm by 150 cm")
    assert (
        "Fire: above 1.8 m a heap can catch fire by itself. Make 2 heaps of it, each on as much ground, or read it"
        in told
    )
    told = typed(*words, "--bay", "1x1 m", code=1)
    assert (
        "DO NOT BUILD IT SO HIGH: above 1.8 m a heap can catch fire by itself. Make 3 heaps of it, each on as much ground."
        in told
    )
    assert "too flat to stay hot: heap it up to 0.9 m or more" in typed(*words, "--bay", "9 x 9 m")
    assert "Fire" not in typed(*words, "--bay", "2 x 2 m")
    small = ("recipe", "--all", "grass=100 kg", "--some", "leaves")
    assert "; big enough to heat\n" in typed(*small)
    assert "too small to stay hot: 1.5 m³ is the least in frost" in typed(*small, "--frost")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ([], "Name what goes in whole"),
        (["--all", "grass"], 'how much "grass" is there?'),
        (["--all", "gras=5 kg"], 'Did you mean "grass"?'),
        (["--all", "moon dust=5 kg"], "`heaptender recipe --list` shows what is known"),
        (
            ["--all", "grass=5 barrows"],
            "holds; write 90 L or its weight, or the volume of a barrow",
        ),
        (["--all", "grass=5 ft"], "is no amount of material"),
        (["--all", "grass=lots"], "is no amount"),
        (["--all", "grass=5 kg", "--some", "grass"], "named twice"),
        (["--all", "grass=5 kg", "--cn", "40..20"], "write the lower end first"),
        (["--all", "grass=5 kg", "--cn", "0..0"], "--cn lies between 5 and 300; 0..0 makes no heap"),
        (["--all", "grass=5 kg", "--moisture", "0.5..0.6"], "--moisture lies between 20 and 85"),
        (["--all", "grass=5 kg", "--moisture", "110 to 120"], "--moisture lies between 20 and 85"),
        (["--all", "grass=5 kg", "--organic", "--cn", "15-20"], "the organic rule asks for C/N 25 to 40"),
        (["--all", "grass=5 kg", "--density-max", "light"], "--density-max is a density such as 600 (kg/m³)"),
        (["--all", "grass=5 kg", "--cn", "rich"], "--cn is a number or two with dots between"),
        (["--all", "grass=5 kg", "--bay", "big"], "--bay is length by width"),
        (["--all", "grass=5 kg", "--bay", "1 x 9000 m"], "cannot be"),
        (["--all", "grass=5 kg", "--materials", "none.csv"], "none.csv"),
        (["--all", "grass=5 kg", "--build", "p1"], "heaptender.toml"),
    ],
)
def test_what_cannot_be_understood_is_refused_with_what_would_be_right(words, said):
    assert said in typed("recipe", *words, code=2)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is empty"),
        ("material,moisture\n", "column nitrogen is missing"),
        ("material,moisture,nitrogen,colour\n", "there is no column 'colour'"),
        ("material,moisture,nitrogen,cn\nx,wet,1,30\n", "line 2: x: moisture is 'wet', which is no number"),
        ("material,moisture,nitrogen,cn\nx,,1,30\n", "x: its moisture is missing"),
        ("material,moisture,nitrogen,cn\n,50,1,30\n", "names no material"),
        ("material,moisture,nitrogen,cn\nx,50,1,30\nx,60,1,30\n", "line 3: x stands there twice"),
        ("material,moisture,nitrogen,cn,cn_low\nx,50,1,,20\n", "cn has an end and no usual value"),
        ("material,moisture,nitrogen,cn,cn_low\nx,50,1,30,40\n", "cn must rise from low to high"),
        ("material,moisture,nitrogen,cn,woody\nx,50,1,30,maybe\n", "woody is yes or no"),
        ("material,moisture,nitrogen\nx,50,1\n", "state its C/N or its carbon"),
        ("material,moisture,nitrogen,cn\nx,0.75,2,20\n", "moisture 0.75 looks like a share of 1; write percent, 75"),
        (
            "material,moisture,nitrogen,cn,density\nx,75,2,20,8\n",
            "density must rise from low to high, within 15 and 1600",
        ),
    ],
)
def test_a_table_that_is_wrong_is_refused_by_its_line(tmp_path, text, said):
    (tmp_path / "own.csv").write_text(text)
    assert said in typed("recipe", "--all", "x=5 kg", "--materials", "own.csv", code=2)


def test_a_mix_without_nitrogen_says_what_it_lacks(tmp_path):
    (tmp_path / "own.csv").write_text("material,moisture,nitrogen,carbon\nbare wood,55,0,50\n")
    told = typed("recipe", "--all", "bare wood=100 kg", "--materials", "own.csv", code=1)
    assert told.startswith("No mix of these fits: nothing in it holds nitrogen. This is the nearest.\n")
    assert "C/N: undefined, as nothing in it holds nitrogen; such a heap does not heat" in told


def test_a_file_that_is_no_table_is_told_in_a_few_lines(tmp_path):
    rows = "".join(f"x{number},wet,1,30\n" for number in range(200))
    (tmp_path / "own.csv").write_text(f"material,moisture,nitrogen,cn\n{rows}")
    told = typed("recipe", "--all", "x=5 kg", "--materials", "own.csv", code=2)
    assert len(told.splitlines()) == 11
    assert told.endswith("And 190 more lines are wrong.\n")


def test_the_heap_is_written_down_with_its_parts(yard):
    words = ("recipe", "--all", "horse manure=300 kg", "--some", "leaves=10 m3", "--build", "Bay 2", "--by", "Ann")
    told = call(yard, *words)
    assert "Written down: Bay 2 built" in told
    assert "(To take it back: heaptender log undo p2.)" in told
    listed = call(yard, "log", "list", "p2")
    assert re.search(
        r"Bay 2 built of 661\.4 lb of horse manure, 36\d\.\d lb of leaves \(C/N 40 and moisture 60 % worked out from the mix\)",
        listed,
    )
    assert "it would end and another would begin" in call(yard, *words, code=1)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--bucket", "2 gal"), '--bucket is what the mix in a full bucket weighs, such as "23 lb", not "2 gal".'),
        (("--bucket", "heavy"), "--bucket is what the mix in a full bucket weighs"),
        (("--bucket", "23"), "--bucket is what the mix in a full bucket weighs"),
        (
            ("--bucket", "23 lb", "--bucket-water", "2 lb"),
            '--bucket-water is the water that filled it up, such as "2 gal"',
        ),
        (("--bucket-water", "2 gal"), "--bucket-water goes with --bucket"),
        (("--bucket", "200 lb"), "a mix of 4793 kg/m³ cannot be"),
        (("--bucket", "23 lb", "--bucket-water", "5 gal"), "more water went in than the bucket holds"),
    ],
)
def test_what_is_no_bucket_of_a_mix_is_refused(words, said):
    assert said in typed("recipe", "--all", "grass=5 kg", *words, code=2)


BUCKETED = ("recipe", "--all", "horse manure=300 kg", "--some", "leaves=200 kg")


def test_a_bucket_of_the_mix_tells_its_density_and_its_air(yard):
    told = call(yard, *BUCKETED, "--bucket", "23 lb", "--bucket-water", "2 gal")
    # 23 x 40.39 = 929 lb/yd³; 2 of 5 gal.
    assert "Density: 929 lb/yd³ and free air 40 %, both by the bucket\n" in told
    assert "Heap: 1.1 yd³ settled" in told


def test_a_bucket_without_water_tells_the_density_alone(metric):
    told = call(metric, *BUCKETED, "--bucket", "9 kg")
    assert "Density: 476 kg/m³ by the bucket, free air 60 % worked out from it\n" in told
    found = mix(*BUCKETED[1:], "--bucket", "9kg", "--bucket-water", "9 L")
    assert (found["bulk_density_kg_m3"], found["density_measured"], found["free_air_measured"]) == (475.51, True, True)
    assert found["free_air"] == 47.55
    assert mix(*BUCKETED[1:], "--bucket", "9kg")["free_air_measured"] is False
    assert mix(*BUCKETED[1:])["density_measured"] is False


def test_the_yards_own_bucket_is_meant(with_barrows, tmp_path):
    file = tmp_path / "heaptender.toml"
    file.write_text(file.read_text().replace("5 gal", "10 L"))
    told = call(with_barrows, *BUCKETED, "--bucket", "5 kg", "--bucket-water", "4 L")
    assert "free air 40 %, both by the bucket" in told


def test_a_heavy_bucket_asks_for_something_coarse(metric):
    told = call(metric, *BUCKETED, "--density-max", "500", "--bucket", "12 kg", "--build", "p2", code=1)
    assert told.startswith(
        "No mix of these fits: too heavy, 634 kg/m³ (at most 500 kg/m³). This is the nearest.\n"
        "Loosen it with something coarse.\n"
    )
    assert told.endswith("Nothing was written down.\n")


def test_what_is_in_stock_goes_in_and_is_used_up(yard):
    for what, amount, *more in (
        ("stable litter", "800 lb", "--risk", "wormer"),
        ("leaves", "2000 lb"),
        ("moon dust", "5 lb"),
        ("straw", "3 bags"),
    ):
        call(yard, "log", "delivery", what, amount, "--from", "a farm", *more)
    told = call(yard, "recipe", "--stock", "--build", "p2")
    assert "Left out, since its figures or its amount are unknown: moon dust, straw.\n" in told
    assert "RISK of the stable litter in stock: wormer.\n" in told
    assert "  stable litter: 800 lb" in told
    assert "  leaves: " in told
    listed = call(yard, "log", "list", "p2")
    used = float(re.search(r"800 lb of stable litter, ([0-9.]+) lb of leaves", listed)[1])
    left = call(yard, "stock")
    assert "stable litter: none left" in left
    assert f"leaves: {2000 - used:.0f} lb" in left


def test_what_is_named_counts_as_it_was_named_whatever_the_stock(yard):
    call(yard, "log", "delivery", "horse manure", "600 lb", "--from", "a farm")
    call(yard, "log", "delivery", "Leaves", "600 lb", "--from", "a farm")
    told = call(yard, "recipe", "--stock", "--all", "leaves=30 lb", "--some", "horse manure=50 lb", code=1)
    assert "  leaves: 30 lb" in told
    assert "all there is of horse manure (50 lb)" in told
    assert told.startswith("No mix of these fits: too much carbon, C/N 40.3 (at most 40)."), "not 40, of at most 40"


def test_a_stock_in_which_nothing_rots_asks_what_goes_in_whole(yard):
    call(yard, "log", "delivery", "leaves", "600 lb", "--from", "a farm")
    told = call(yard, "recipe", "--stock", code=2)
    assert told.startswith("Nothing in stock rots. Name what goes in whole, such as --all")


def test_the_picture_shows_the_mix_that_is_told(metric, tmp_path):
    words = ("recipe", "--all", "stable litter=400 kg", "--some", "leaves=6 m3", "--some", "sawdust=0.01 kg")
    told = call(metric, *words, "--picture", "new folder/mix.svg")
    assert told.startswith("This mix will do")
    drawn = (tmp_path / "new folder" / "mix.svg").read_text(encoding="utf-8")
    ratio = re.search(r"C/N (\d+), where", told)[1]
    assert f" and C/N {ratio} (" in drawn
    assert "Of its materials: stable litter, 65 % and C/N 35; leaves, 38 % and C/N 54." in drawn
    assert "Left out: sawdust, 39 % and C/N 440." in drawn
    assert 'fill="#' in drawn, "in ink of its own, for it has no stylesheet"
    refused = call(metric, *words, "--picture", "/proc/none/mix.svg", code=3)
    assert "cannot be written" in refused
    assert "Traceback" not in refused


def test_the_water_of_a_mix_is_a_part_of_the_entry(metric):
    call(metric, "recipe", "--all", "straw=100 kg", "--some", "laying-hen manure=60 kg", "--build", "p2")
    listed = call(metric, "log", "list", "p2")
    assert re.search(r"built of 100 kg of straw, [0-9.]+ kg of laying-hen manure, [0-9.]+ L of water \(C/N", listed)


def test_signs_that_separate_parts_are_no_part_of_a_name(metric, tmp_path):
    (tmp_path / "own.csv").write_text('material,moisture,nitrogen,cn,density\n"hay; old, + brown",60,1.5,30,100\n')
    call(metric, "recipe", "--all", "hay; old, + brown=300 kg", "--materials", "own.csv", "--build", "p2")
    assert "built of 300 kg of hay old brown (C/N 30" in call(metric, "log", "list", "p2")


def test_a_mix_that_does_not_fit_or_is_too_high_is_not_written_down(yard):
    call(yard, "recipe", "--all", "cardboard=40 kg", "--build", "p2", code=1)
    told = call(yard, "recipe", "--all", "grass=2 t", "--some", "leaves", "--bay", "4 x 4 ft", "--build", "p2", code=1)
    assert "Make 9 heaps of it" in told
    assert told.endswith("Nothing was written down.\n")
    large = ("recipe", "--all", "grass=200000 lb", "--some", "leaves", "--build", "p2")
    assert "say its ground, such as --bay" in call(yard, *large, code=2)
    assert not (yard / "data").exists()


def test_the_materials_that_are_known_are_listed(metric):
    told = call(metric, "recipe", "--list")
    assert all(f"{name}: moisture" in told for name in known_feedstocks())
    assert "coffee grounds: moisture 80 %, nitrogen 2.0 %, C/N 20, 839 kg/m³ loose\n    S55; ash from memory\n" in told
    assert "recipe" in SUMMARIES


def test_a_row_that_contradicts_itself_is_taken_and_told(tmp_path):
    (tmp_path / "own.csv").write_text(
        "material,moisture,nitrogen,cn,carbon\ngrass,77,3.8,,50\nstraw,12,0.7,80,56.5\nleaves,38,0.9,54,30\n"
    )
    told = typed("recipe", "--materials", "own.csv", "--list")
    assert (
        "own.csv, line 4: leaves has C/N 54, and its carbon and nitrogen make 33.3; 54 counts. Leave out what is wrong."
        in told
    )
    assert "line 2" not in told
    assert "line 3" not in told, "0.9 % apart is rounding"


def test_a_table_that_is_not_there_is_called_one():
    told = typed("recipe", "--all", "grass=5 kg", "--materials", "none.csv", code=2)
    assert "none.csv is not there or no file; name a table of materials" in told
