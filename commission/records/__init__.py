"""A visit as a file: written once, sealed, read back exactly; and readings from a file to be judged."""
