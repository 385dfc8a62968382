"""The graph of the yard's material, gathered from the log and the book of heaps, and kept beside the journal."""
