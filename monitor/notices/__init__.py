"""Notices: the choice of whom to tell, when and in what words. Pure; the engine owns the alarms and calls the desk."""

from monitor.notices.by_hand import beyond, meaning, read_words
from monitor.notices.cautions import DUST, LIFTING, cautions_for
from monitor.notices.desk import NoticeDesk
from monitor.notices.due_lines import LEAVING_MS, DueLine, FallingDue, SoonDue, nothing_due
from monitor.notices.evening_words import FROST_AHEAD, HEAT_AHEAD
from monitor.notices.facts import Phrases, hand_words
from monitor.notices.headlines import headline, standing
from monitor.notices.instants import dated, mark, redated, said
from monitor.notices.known import Ending, Facts, Foretold, InBin, Outside, Progress, Rounds, Stale
from monitor.notices.letters import Words
from monitor.notices.localtime import instant, local, say_date, say_date_time, say_span, say_time
from monitor.notices.looked_words import looked_words
from monitor.notices.names import clean, join_names
from monitor.notices.state import BLANK, Absence, Cause, DeskState, LineKind, Message, NoticeReason
from monitor.notices.summary import DIGEST_OF, LeavingFacts, ProbeAge
from monitor.notices.texts import compose, compose_kept, glimpse
from monitor.notices.unread import UnreadDesk
from monitor.notices.watched import By, PlaceWatch, Watched, all_known, counted, next_round_words
