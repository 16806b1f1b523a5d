"""Nouns to a declarative specification, and that to SVG or PNG."""
