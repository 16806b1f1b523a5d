"""A text log to frames; where the scene begins; lining runs up."""
