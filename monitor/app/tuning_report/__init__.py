"""Presents the answers of `tune` and `replay --set`: lines, JSON values, and a report with pictures."""
