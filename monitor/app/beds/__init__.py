"""The care of worm beds as people ask for it: a bed by its record, its feeding plan and its harvests, in words and as JSON."""

from monitor.app.beds.bed_look import bed_look
from monitor.app.beds.bed_record import bed_now, fed_lately, feedings_of
from monitor.app.beds.bed_words import BedWords, bed_json
from monitor.app.beds.feeding_words import feeding_headline, feeding_json, feeding_lines
from monitor.app.beds.harvest_record import harvests_now
from monitor.app.beds.harvest_words import HarvestWords, harvest_json
