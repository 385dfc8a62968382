"""The figures beside the amount: the moisture of what was weighed, and the fractions of what was screened."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.amounts import Dimension
from monitor.model.errors import FieldError, MisuseError
from monitor.model.moisture_words import by_drying, moisture_understood
from monitor.model.settings import Settings, Site
from monitor.model.work import Work, WorkKind
from monitor.model.work_entry import (
    figures_understood,
    fraction_of,
    fraction_understood,
    work_fields,
)

METRIC = Settings()
US = Settings(site=Site(temperature_unit="degF"))


def screened(**told):
    return work_fields(METRIC, WorkKind.SCREENED, told)


def test_a_screening_holds_what_went_on_and_what_came_out_of_it():
    told = screened(
        what="b1-2026-07-01", amount="47.3 kg", moisture="45 %", fines="30 kilos", middle="9,0 kg", overs="8.3kg"
    )
    assert told == {
        "what": "b1-2026-07-01", "amount": "47.3", "measure": "kg", "unit": "kg",
        "moisture": "45", "fines": "30 kg", "middle": "9.0 kg", "overs": "8.3 kg",
    }  # fmt: skip
    assert fraction_of(Work(time=0, place="b1", kind=WorkKind.SCREENED, **told), "fines").base == 30_000


def test_nothing_left_of_a_fraction_is_told_and_a_fraction_not_measured_is_not():
    work = Work(time=0, place="b1", kind=WorkKind.SCREENED, **screened(fines="0 kg", overs="2 buckets"))
    assert fraction_of(work, "fines").base == 0
    assert fraction_of(work, "middle") is None
    assert fraction_of(work, "overs").dimension is Dimension.CONTAINERS


@pytest.mark.parametrize(
    ("text", "kept"), [("0", "0"), ("100", "100"), (" 74.5 % ", "74.5"), ("74,25", "74.25"), ("", ""), ("  ", "")]
)
def test_a_moisture_is_a_percentage(text, kept):
    assert moisture_understood(text) == kept


@pytest.mark.parametrize("text", ["100.001", "101", "-1", "wet", "0x4", "7 4", "1e1", "٧٤", "74%%"])
def test_another_moisture_is_refused_and_its_field_named(text):
    with pytest.raises(
        FieldError, match=r"is no moisture; it is percent of the wet mass, 0 to 100, such as 74, or the weights"
    ) as fault:
        work_fields(METRIC, WorkKind.HARVESTED, {"moisture": text})
    assert fault.value.field == "moisture"


def test_a_moisture_by_drying_is_worked_out_from_the_weights():
    # A university's composting pages (seen-2nd): 10 g wet in a container of 4 g; dry, with it, 6.3 g: 77 %.
    assert by_drying(14, 6.3, 4) == pytest.approx(77)
    assert moisture_understood("wet 14 g, dry 6.3 g, container 4 g") == "77"
    assert moisture_understood("0.3 oz dry; 1 oz wet") == "70"
    assert moisture_understood("wet 10,5 g, dry 4,2 g") == "60"
    assert by_drying(10, 10) == 0


@pytest.mark.parametrize(
    "text", ["wet 14 g", "wet 14 g, wet 6 g", "wet 14 g, dry 6 g, lid 4 g", "wet 14 L, dry 6 g", "wet 14, dry 6",
             "wet much, dry 2 g", "wet 6 g, dry 14 g", "wet 14 g, dry 6 g, container 7 g", "wet 4 g, dry 4 g, container 4 g"]
)  # fmt: skip
def test_weights_that_cannot_be_are_refused(text):
    with pytest.raises(ValueError, match=r"no moisture|no weight|no amount|wet weighs more"):
        moisture_understood(text)


@given(st.floats(0.1, 1e4), st.floats(0, 1), st.floats(0, 1e4))
def test_drying_never_leaves_the_percentages(sample, part, container):
    found = by_drying(sample + container, sample * part + container, container)
    assert -1e-6 <= found <= 100 + 1e-6
    assert found == pytest.approx(100 * (1 - part), abs=0.01 + 1e-10 * container / sample)


@pytest.mark.parametrize(
    ("settings", "text", "said"),
    [
        (METRIC, "30", '"30" says nothing of fines; fines are a mass or a volume, such as 30 kg'),
        (US, "30", "such as 30 lb"),
        (METRIC, "3 in", '"3 in" says nothing of fines'),
        (METRIC, "20 min", '"20 min" says nothing of fines'),
        (METRIC, "much", '"much" is no amount'),
        (METRIC, "3 firkins", '"firkins" is no unit'),
        (METRIC, "1 ton", '"ton" can be two things'),
    ],
)
def test_a_fraction_is_a_mass_or_a_volume(settings, text, said):
    with pytest.raises(FieldError) as fault:
        work_fields(settings, WorkKind.SCREENED, {"fines": text})
    assert said in str(fault.value)
    assert fault.value.field == "fines"


def test_a_us_ton_is_kept_as_it_was_meant():
    assert fraction_understood(US, "fines", "1/2 ton") == "1/2 short ton"
    assert fraction_of(Work(time=0, place="b1", kind=WorkKind.SCREENED, fines="1/2 short ton"), "fines").base == 453_592


@pytest.mark.parametrize(("kind", "name"), [(WorkKind.HARVESTED, "fines"), (WorkKind.FED, "moisture")])
def test_figures_go_with_their_own_kinds_only(kind, name):
    with pytest.raises(MisuseError, match=f'says nothing of "{name}"'):
        work_fields(METRIC, kind, {name: "3 kg"})


def test_a_row_of_a_file_is_read_by_the_same_rules():
    row = Work(time=0, place="b1", kind=WorkKind.SCREENED, amount="9", measure="kilos", moisture="45%", fines="6kg")
    read = figures_understood(METRIC, row)
    assert (read.amount, read.unit, read.moisture, read.fines, read.overs) == ("9", "kg", "45", "6 kg", "")
    with pytest.raises(ValueError, match="no moisture"):
        figures_understood(METRIC, Work(time=0, place="b1", kind=WorkKind.SCREENED, moisture="200"))


def test_a_fraction_that_cannot_be_read_in_an_old_record_is_not_measured():
    assert fraction_of(Work(time=0, place="b1", kind=WorkKind.SCREENED, fines="a heap"), "fines") is None


@given(st.decimals(0, 100, places=2))
def test_what_was_understood_once_stays_so(number):
    kept = moisture_understood(str(number))
    assert float(kept) == float(number)
    assert moisture_understood(kept) == kept
    fraction = fraction_understood(METRIC, "fines", f"{number} kg")
    assert fraction_understood(METRIC, "fines", fraction) == fraction


@given(st.text(max_size=12))
def test_any_text_is_a_figure_or_refused(text):
    for read in (moisture_understood, lambda typed: fraction_understood(US, "overs", typed)):
        try:
            kept = read(text)
        except ValueError:
            continue
        assert read(kept) == kept


def test_the_depth_of_a_bed_is_a_length_and_enough_of_a_look():
    assert work_fields(US, WorkKind.INSPECTED, {"depth": '20"'}) == {"depth": "20 in"}
    with pytest.raises(FieldError, match=r'"20 lb" is no depth; it is a length, such as 20 in') as fault:
        work_fields(US, WorkKind.INSPECTED, {"depth": "20 lb"})
    assert fault.value.field == "depth"
    with pytest.raises(MisuseError, match="What did you see"):
        work_fields(US, WorkKind.INSPECTED, {"depth": " "})
