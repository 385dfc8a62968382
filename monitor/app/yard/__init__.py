"""The yard as the journal has it now, and how that is said, for commands that only look."""
