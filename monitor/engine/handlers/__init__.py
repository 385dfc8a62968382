"""The handlers of events, a file for each kind."""
