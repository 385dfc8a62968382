"""A batch's facts, and how they stand by its rule."""

from monitor.certificate.judged.case import Attested, CameFrom, Case, CaseInput, CaseProbe, CaseWork, ServiceEntry
from monitor.certificate.judged.hand_lines import proving_lines, rounds_by_hand
from monitor.certificate.judged.judging import Judgement, accepted, calibrated, judge_case, member
from monitor.certificate.judged.usual import MET_AS_ASKED, as_asked
