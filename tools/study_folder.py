"""The page on the study folder: words by hand, tables of the ledger from its own comments."""

from __future__ import annotations

from typing import Final

from evenhand.book import schema

WORDS: Final = """
A study is a folder. Everything in it is in an open format, and nothing else is kept anywhere.

```
my-study/
  study.toml            what is asked: written by people, fit for version control
  book.sqlite           the ledger: runs, how their logs are read, stretches, standings, events
  originals/ab/abcdef….zst   every log exactly as it came
  derived/              frames and numbers as Parquet; can be deleted at any time
  inbox/                optional: snapshot files that came from the bench on a stick; read, never moved or deleted
  out/                  write-ups; published.sha256 lists the files of the last one
```

While a process has the book open there may also be `book.sqlite-wal` and `book.sqlite-shm`: they belong to the ledger and
must travel with it. The last process to close the book folds them in.

## Promises

- A run that was reported as taken in survives a kill, a power cut or a full disk at any later instant. The original reaches
  the disk first, the ledger second, and only then is anything reported; derived data come last.
- Taking the same log in twice changes nothing. A run's place that another log has is refused; the same log in another place
  is taken in and noted.
- Nothing in the ledger is changed or deleted: triggers refuse it. A decision is a new row, and the latest one counts.
- Every row says when it was written and by what version. Times are UTC.
- A ledger of an older version is brought up to date when it is opened, each step in one transaction with its record in
  `migrations`. One of a newer version is refused and left alone.
- The stretch of a scene that counts is fixed once, when three runs of it are in (or when numbers are first asked for); one
  more run never changes another run's numbers.

## Originals

A log is named by the SHA-256 of its bytes (unpacked, where it came packed) and compressed with Zstandard;
`zstd -d abcdef….zst` gives it back. A file whose content no longer fits its name is reported as damaged; taking the same log
in again mends it.

## Derived data

`derived/frames/ab/….parquet` holds the frames of a run in one column, `ns`: durations in nanoseconds, 32-bit integers, 64-bit
where a frame lasted longer than 2.1 s. The first part of the name is the beginning of the frames' SHA-256 (`frames_sha256` in
the ledger). `derived/runs.….parquet` holds a row for each run that the study names: which frames count (`first` up to but not
including `last`), why (`start_why`, `lag_s`, `missing`), its measures (`value:…`), how many frames decide a low (`tail:…`),
and what all of it was made from (`frames_sha256`, `stretch`, `target_rate`, `code`: a fingerprint of the code). A row is used
again only where all of that is the same.

The last part of every name in `derived/` is a seal of the file's bytes. A file that does not fit its seal is as good as
missing and is made again without a word. `evenhand rebuild` makes all of it again and says whether every number came out the
same to the last bit.

## Tables of the ledger
"""


def text() -> str:
    """Body of docs/reference/study-folder.md, in Markdown, without its title."""
    return WORDS.strip() + "\n\n" + schema.describe()
