"""Does the work of `tune`: gathers a place's record, tries other thresholds on it, writes the choice into the configuration."""
