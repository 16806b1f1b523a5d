"""This PC, or another, at a moment: what it is, in which setup, and what changed."""
