"""Turns what people write down (work, readings by hand, corrections, labels) into events, and reads the log back."""
