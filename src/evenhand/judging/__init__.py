"""Kept measures to verdicts; works on a plain table, without a study folder."""
