"""Describes piles and bins in words: their state, what needs a person there, their probes, their rule's progress, their log."""
