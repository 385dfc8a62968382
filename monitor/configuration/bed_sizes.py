"""The sizes of worm beds: what `[bins.ID]` says of them, checked.

Source: a windrow is at most 8 ft (2.4 m) wide, so that its middle can be reached; seen-2nd, in a text on outdoor beds.
"""

from monitor.configuration.config_document import BinPart, Document
from monitor.configuration.config_problems import Problems
from monitor.configuration.configured import BedSize
from monitor.model.words import BinKind

WIDEST_MM = 2438
DIFFERS = 0.1
"""By what share a surface may differ from width times length."""


def bed_sizes(document: Document, problems: Problems) -> dict[str, BedSize]:
    """Return the sizes of all bins, by their ids; a surface that is not stated is width times length.

    Args:
        document: The configuration.
        problems: Receives what cannot be.
    """
    return {name: _size(name, part, problems) for name, part in document.bins.items()}


def _size(name: str, part: BinPart, problems: Problems) -> BedSize:
    wide, long = part.width, part.length
    if part.kind is BinKind.WINDROW and wide is not None and wide > WIDEST_MM:
        wrong = f"a windrow {wide / 1000:.1f} m wide cannot be reached in its middle"
        problems.add(("bins", name, "width"), wrong, "make it 8 ft (2.4 m) wide at most")
    if part.rim is not None and part.depth is not None and part.depth > part.rim:
        wrong = "the bed is deeper than its rim is high"
        problems.add(("bins", name, "depth"), wrong, "both are measured from the floor or grate of the bin")
    surface = part.surface
    if wide is not None and long is not None:
        if surface is not None and abs(surface - wide * long) > DIFFERS * wide * long:
            wrong = f"the surface is not width times length ({wide * long / 1e6:.2f} m²)"
            problems.add(("bins", name, "surface"), wrong, "leave out one of them, or put it right")
        surface = wide * long if surface is None else surface
    return BedSize(
        surface_mm2=surface,
        worms_g=part.worms,
        begun=part.begun,
        kind=part.kind,
        depth_mm=part.depth,
        rim_mm=part.rim,
        indoors=part.indoors,
    )
