"""The plant and its record as drawn and printed."""
