"""Work of bins: food, water, bedding and emptying."""
