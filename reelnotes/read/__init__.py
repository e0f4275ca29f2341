"""Readers: one file a format, text in, `(records, problems)` out. Every non-blank line is accounted for."""
