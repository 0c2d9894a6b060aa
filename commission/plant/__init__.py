"""What stands on the site: models of site, profiles and rule sets, loading and clear errors."""
