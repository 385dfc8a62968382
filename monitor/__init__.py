"""Heaptender: tends hot-compost piles and worm bins when nobody is there.

The package is a pure core in a thin shell; `docs/architecture.md` shows the rows and the one-way rule.
"""

__version__ = "0.1.0"
