"""Sizes of worm beds in the configuration."""

import pytest

from monitor.configuration import load_text
from monitor.model.errors import ConfigurationError
from monitor.model.words import BinKind


def size(text):
    return load_text(f"[bins.b1]\n{text}", None, {}).beds["b1"]


def problem(text):
    with pytest.raises(ConfigurationError) as fault:
        size(text)
    (said,) = fault.value.problems
    return said


def test_a_bed_has_a_kind_a_depth_and_a_rim():
    bed = size('kind = "half-drum"\ndepth = "16 in"\nrim = "60 cm"\n')
    assert (bed.kind, bed.depth_mm, bed.rim_mm) == (BinKind.HALF_DRUM, 406, 600)
    assert size("").kind is None
    assert "kind of bin" in problem('kind = "tower"\n')


def test_its_surface_is_width_times_length_unless_stated():
    assert size('width = "4 ft"\nlength = "8 ft"\n').surface_mm2 == 1219 * 2438
    both = 'width = "1 m"\nlength = "2 m"\nsurface = "{} m2"\n'
    assert size(both.format("1.9")).surface_mm2 == 1_900_000
    assert "the surface is not width times length (2.00 m²)" in problem(both.format("3"))
    assert size('width = "1 m"\n').surface_mm2 is None


def test_a_windrow_is_no_wider_than_people_reach():
    assert size('kind = "windrow"\nwidth = "8 ft"\n').kind is BinKind.WINDROW
    assert "make it 8 ft (2.4 m) wide at most" in problem('kind = "windrow"\nwidth = "2.5 m"\n')
    assert size('kind = "flow"\nwidth = "2.5 m"\n').kind is BinKind.FLOW


def test_no_bed_is_deeper_than_its_rim_is_high():
    assert "the bed is deeper than its rim is high" in problem('depth = "30 in"\nrim = "20 in"\n')
