"""Two studies to learn from: an invented one with known truth, and a measured one."""
