"""Heaps on their piles: batches begin, move and end, take in readings and rounds, and are worked out again."""
