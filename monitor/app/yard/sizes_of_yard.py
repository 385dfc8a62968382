"""Gathers the sizes of a yard for questions about figures: what its bins hold, and what amounts weigh."""

from monitor.app.yard.yard_scales import scales_of
from monitor.configuration import Configuration
from monitor.engine import BedSpace, YardSizes


def sizes_of(configuration: Configuration) -> YardSizes:
    """Return the sizes of a yard, for questions about figures."""
    beds = {
        name: BedSpace(surface_mm2=one.surface_mm2, rim_mm=one.rim_mm, depth_mm=one.depth_mm)
        for name, one in configuration.beds.items()
    }
    return YardSizes(beds, scales_of(configuration))
