"""Parts that every command shares: options, progress, and the way times, refusals and files are written."""
