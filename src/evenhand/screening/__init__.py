"""Runs to flags."""
