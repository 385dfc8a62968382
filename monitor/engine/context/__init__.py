"""What the engine remembers, and the few ports through which all its rooms read and change it."""
