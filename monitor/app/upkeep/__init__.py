"""What runs by the wall clock beside the loop: packing, copies of the journal, the search for damage, the mirror's check."""
