"""The evening before: what tomorrow's air will do to a place, by the record of days like it. Pure; dates are the yard's own."""

from monitor.forecast.foreseeing import (
    AGAIN_AFTER_DAYS,
    Expected,
    Score,
    enough,
    held_against_itself,
    must_prove_itself,
)
from monitor.forecast.outlook import FRESH_MS, Outlook, Predicted, Whence, outlook, persistence, serves
from monitor.forecast.past_days import MOST_DAYS, Reach, Trouble, past_of
from monitor.forecast.record_rule import RecordRule
