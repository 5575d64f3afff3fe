"""Checks and prepares pictures for print against a publisher's house standard."""

__version__ = "0.1.0"
