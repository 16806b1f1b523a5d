"""Rows of the log that were not frames and were skipped."""

from __future__ import annotations

from evenhand.screening.found import Found, doubt, note, share_words
from evenhand.screening.survey import Survey
from evenhand.wording import counted


def find(survey: Survey, threshold: float) -> Found:
    """Doubtful where more than `threshold` of the rows were bad, else a note."""
    found = Found()
    for run in survey.runs:
        if run.bad_rows == 0:
            continue
        share = run.bad_rows / (run.bad_rows + len(run.whole))
        evidence = {"bad_rows": float(run.bad_rows), "share": share}
        rows, were = counted(run.bad_rows, "row"), "was" if run.bad_rows == 1 else "were"
        said = f"{rows} of the log ({share_words(share, 2)}) could not be read as a frame and {were} skipped."
        found.flags.append((doubt if share > threshold else note)(run.key, "bad-rows", said, evidence))
    return found
