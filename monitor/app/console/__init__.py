"""What every command shares: its options, progress, and how times, refusals and files are written."""
