"""The mix as people ask for it and read it: amounts in the yard's measures, words, JSON, and its entry in the log."""

from monitor.app.mixing.answered_mix import answered_mix
from monitor.app.mixing.asked_bucket import bucket_test
from monitor.app.mixing.asked_mix import (
    Asked,
    asked_mix,
    band_of,
    density_of,
    feedstock_named,
    feedstocks_known,
    grams_of,
    ground_mm2,
)
from monitor.app.mixing.build_entry import build_fields
from monitor.app.mixing.mix_drawing import draw_mix
from monitor.app.mixing.mix_json import mix_json
from monitor.app.mixing.mix_words import feedstock_lines, mix_lines, mix_words
