"""Simulated studies with known truth, judged by the code that judges real ones."""
