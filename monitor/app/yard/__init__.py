"""The yard as the journal has it now, in values and words, for commands that only look."""
