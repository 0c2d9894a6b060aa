"""The supervisor's desk: many records at once. What is open, what drifts, what is due, what was accepted."""
