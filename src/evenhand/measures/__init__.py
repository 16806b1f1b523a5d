"""Frames to the numbers of a run."""
