"""The design check: is everything on the site, as one plant, safe and able to do what was promised."""
