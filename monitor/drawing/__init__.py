"""Pictures as SVG text: plain values in, one picture out; the same on the page, in the certificate and in a report.

Rules: a picture takes its colours only from marks (`ink`), makes all text harmless (`lettering`), and is the same text for
the same numbers. Pictures that thin readings load numpy on first use.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from monitor.drawing.bag_label import BagLabel, bag_label
from monitor.drawing.bin_picture import bin_section
from monitor.drawing.choice_plot import Choice, ChoiceRole, Choices, choices
from monitor.drawing.course_plot import Course, course_frame, course_plot
from monitor.drawing.ink import Ink, Mark, inline, mark_rules, stylesheet
from monitor.drawing.log_slip import LogSlip, log_slip
from monitor.drawing.mix_picture import mix_picture
from monitor.drawing.mix_values import MixMaterial, MixPicture, Spread, Stretch
from monitor.drawing.pile_picture import pile_section
from monitor.drawing.plot import Comfort, Limit, Line, LineKind, Note, NoteKind, OverTime, PlanLine, Turning
from monitor.drawing.plot_lines import names_room
from monitor.drawing.ruler import Ruler, ruler
from monitor.drawing.scales import Unit
from monitor.drawing.section_values import BinProbe, BinSection, PileProbe, PileSection, PileShape, ProbeState
from monitor.drawing.time_strip import Band, BandLook, Message, MessageLook, Strip, StripRow, Trouble, strip
from monitor.drawing.tokens import FAMILY, PAPER_COLOURS, PRINTED, properties
from monitor.drawing.tree_picture import tree_picture
from monitor.drawing.tree_values import TreeBox, TreeKind
from monitor.drawing.year_band import YEAR_WIDTHS, YearBand, year_band, year_scale

if TYPE_CHECKING:
    from monitor.drawing.small_line import plan_line
    from monitor.drawing.time_plot import Size, over_time, over_time_sizes

_LOADED_LATE = {
    "over_time": "time_plot",
    "over_time_sizes": "time_plot",
    "Size": "time_plot",
    "plan_line": "small_line",
}


def __getattr__(name: str) -> Any:
    """Load a picture that needs numpy when it is first asked for."""
    if name in _LOADED_LATE:
        return getattr(import_module(f"monitor.drawing.{_LOADED_LATE[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
