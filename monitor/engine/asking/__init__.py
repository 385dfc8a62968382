"""Questions about an entry or an answer before it is stored, and reasons to refuse it."""
