"""Representations of an answer: JSON, CSV and the others."""
