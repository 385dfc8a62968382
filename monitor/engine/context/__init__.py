"""The engine's memory, and the few ports through which all its rooms read and change it."""
