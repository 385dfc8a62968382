"""Readings taken by hand: every limit applies to them, and people are asked about likely slips."""
