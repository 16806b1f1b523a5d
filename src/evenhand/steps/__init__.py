"""One file per verb; the only bridge between the work and the memory."""
