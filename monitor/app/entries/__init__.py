"""What people write down: work, readings by hand, corrections and labels, from their words to the event; and the log of it."""
