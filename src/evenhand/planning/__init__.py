"""From a study to a plan: in which order the PC is visited, how long it takes, what it will settle."""
