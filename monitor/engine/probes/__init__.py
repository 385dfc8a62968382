"""Deadlines and alarms of probes that fall silent, break or lie outside."""
