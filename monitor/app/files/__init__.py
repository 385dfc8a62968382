"""Takes recordings in from files (`import`) and writes them out (`export`)."""
