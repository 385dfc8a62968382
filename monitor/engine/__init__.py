"""The engine: the one state machine between what arrives and what people are told. Pure."""

from monitor.engine.asking.answerable import why_unanswerable
from monitor.engine.asking.entry_questions import FAR_BACK_MS, Standing, Yard, questions, questions_of_readings
from monitor.engine.asking.foreseen import foreseen, foreseen_of
from monitor.engine.asking.logged_past import LoggedPast
from monitor.engine.asking.yard_sizes import BedSpace, YardSizes, mass_words
from monitor.engine.batches.recompute import AMBIENT_BEFORE_MS, ambients_of
from monitor.engine.context.audience import NOBODY, PEOPLE, Audience
from monitor.engine.context.batch_runs import (
    BatchRun,
    heat_status,
    hold_milli,
    nearest_way,
    progress_now,
    rule_of,
    turning_waits,
)
from monitor.engine.context.core import Core
from monitor.engine.context.places import is_core
from monitor.engine.context.read_spots import HandSpot, is_of_another_heap, last_read, spots_at, why_not_held
from monitor.engine.context.state import load_state, settings_from
from monitor.engine.engine import Engine
from monitor.engine.hand.known_beside import beside_words
from monitor.engine.handlers.link_news import fault_name
from monitor.engine.handlers.undone_entries import in_the_way
from monitor.engine.records.batch_lookup import lone_batch, run_of, whole_record
from monitor.engine.records.batch_record import (
    BACK_BY_ITSELF,
    CONFIGURATION,
    PUT_IN,
    TAKEN_OUT,
    TURNING,
    BatchRecord,
    ServiceChange,
    ServiceRecord,
    batch_record,
)
