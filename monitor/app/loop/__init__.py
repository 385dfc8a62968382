"""The writer's loop: takes in what arrives, has it decided, commits it; keeps the clock; acts when nothing can be stored."""
