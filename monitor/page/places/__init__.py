"""Piles and bins in words: how each is, what needs a person there, its probes, its rule's progress, its log."""
