"""Arrays to numbers: numpy and scipy only; knows none of the nouns above."""
