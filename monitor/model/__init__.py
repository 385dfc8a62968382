"""The bottom row: values, units and words that every other part shares. Standard library only."""
