"""The record as columns for the engine at speed; the journal's own face leaves it out, since most readers need no engine."""

from monitor.journal.columns.record_columns import read_pieces
