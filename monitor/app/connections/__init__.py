"""From the configuration's connections to running sources, channels and the mirror's view of the journal."""
