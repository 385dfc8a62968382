"""The writer's loop: takes arrivals in, has the engine decide, commits; keeps the clock; acts while nothing can be stored."""
