"""The pages: their words, tables and figures, and their setting by typst."""

from monitor.certificate.pages.document import make_document
from monitor.certificate.pages.input_pages import risk_words
from monitor.certificate.pages.interim import is_interim, so_far
from monitor.certificate.pages.passages import own_rule
from monitor.certificate.pages.sheet_wording import coarse, days_below, rounds_named
from monitor.certificate.pages.typesetting import layout_digest, typst_version
