"""What `tune` runs: a place's record, other thresholds tried on it, and the choice written into the configuration."""
