"""Verdicts and charts to a page."""
