"""The care of worm beds as people ask for it: the record of a bed, and its feeding plan in words, its harvests."""

from monitor.app.beds.bed_record import bed_now, fed_lately, feedings_of
from monitor.app.beds.feeding_words import feeding_json, feeding_lines
from monitor.app.beds.harvest_record import harvests_now
from monitor.app.beds.harvest_words import DUST, LIFTING, HarvestWords, harvest_json
