"""Readings taken by hand: every limit applies to them, and slips are asked about."""
