"""A plant that is visited again: where its records are, what is due there, and how that is told."""
