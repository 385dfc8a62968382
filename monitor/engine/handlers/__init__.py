"""What each kind of event does, a file for each kind."""
