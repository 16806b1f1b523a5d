"""One module per check."""
