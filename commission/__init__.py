"""Commissioning of battery-based power plants, from the site file to the signed record."""

__version__ = "0.3.0"
