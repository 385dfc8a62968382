"""A probe's accepted readings as straight lines between them, their running mean, and the falls that belong to turnings."""

from monitor.proof.temperature.exact_values import mean_values, values_at
from monitor.proof.temperature.knots import Bundle, bundles, places_at, walk
from monitor.proof.temperature.segments import ALWAYS, Series, Stretches, between_drawn, chunks, stretches
from monitor.proof.temperature.smoothing import smooth
from monitor.proof.temperature.turning_falls import falls_before
