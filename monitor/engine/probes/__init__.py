"""Probes that fall silent, break, or lie outside: their deadlines and alarms."""
