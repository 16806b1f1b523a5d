"""The sections of a report, one file each: nouns in, `Section` out, no markup."""
