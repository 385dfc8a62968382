"""Jobs that run by the wall clock beside the loop: packing, copies, the search for damage, the mirror's check."""
