"""The one line that governs a batch (its coldest probe, or the mean of its probes), and means over spans of it."""

from monitor.proof.governing.batch_temperature import Course
from monitor.proof.governing.governing_line import LinePiece, clip, extremes, governing
