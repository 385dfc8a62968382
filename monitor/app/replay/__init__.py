"""Runs recordings through the engine in memory, with the settings that they had or with changed ones."""
