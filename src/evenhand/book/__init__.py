"""The study folder's memory: ledger, originals, derived data. Knows no statistics."""
