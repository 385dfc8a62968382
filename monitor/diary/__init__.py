"""The diary: what is due, why, and how much slack it has; a file for each kind of thing that can fall due. Pure."""

from monitor.diary.bed_due import harvest_due, lift_due
from monitor.diary.calibrate_due import Checked, calibrate_due
from monitor.diary.due import Due, What, in_order
from monitor.diary.due_words import by_day, clock_words, reason, short_words, slack_words, title, today, until_back
from monitor.diary.feed_due import PlannedFood, feed_due
from monitor.diary.heap_due import (
    RuleAhead,
    after_ready,
    certify_due,
    cooled_due,
    hot_due,
    keep_off,
    ready_expected,
    rule_expected,
)
from monitor.diary.material_due import back_due, lot_test_due, mix_due, unscreened_due
from monitor.diary.read_due import read_due
from monitor.diary.screen_due import screen_due
from monitor.diary.season_due import QUIET_DAYS, YEARS, AirDay, season_dues
from monitor.diary.turn_due import WantedTurnings, turn_due
from monitor.diary.water_due import WrongDamp, damp_due
from monitor.diary.week import Letter, Week, days_around, week
