"""Velamen: nutrient solutions for epiphytes, computed over HTTP."""

__version__ = "0.1.0"
