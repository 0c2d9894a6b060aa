"""From the plant to the settings of every device, and the findings that they give rise to."""
