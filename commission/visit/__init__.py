"""The readings of one visit: instruments, verdicts, the journal on disk, sign-off."""
