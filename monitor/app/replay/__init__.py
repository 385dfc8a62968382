"""Runs recordings through the engine in memory, with their own settings or with changed ones."""
