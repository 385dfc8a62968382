"""Builds running sources, channels and the mirror's view of the journal from the configuration's connections."""
