"""Material: its heat status under one rule after it is thrown together with other material, and the graph of all that moved."""

from monitor.material.graph import Graph, Tally
from monitor.material.heat_status import (
    Change,
    HeatStatus,
    change_by,
    status_of_record,
)
from monitor.material.incoming import (
    CameIn,
    WasMet,
    came_in,
    incoming,
    never_met,
    relatives,
    worst_change,
)
from monitor.material.kept_reading import KeptReading
from monitor.material.left import WEIGHING_PERCENT, Left
from monitor.material.log_order import EMPTIED_AFTER_MS, in_order, places_in, tests_in
from monitor.material.log_reading import CASTINGS
from monitor.material.lots import TracedInput, Treated, held_back, trace_lot, treated
from monitor.material.material_record import MaterialRecord, read_log
from monitor.material.movements import BEFORE_THE_LOG, Movement, Node, NodeKind, Weighed
from monitor.material.places_of_heaps import PlacesOfHeaps, known_heaps
from monitor.material.raw import is_raw
from monitor.material.shelf import Shelf
from monitor.material.tracing import Outcome, inputs_of, lots_with, outcomes_of, risks_of
from monitor.material.yard_of_material import Scales, YardOfMaterial
