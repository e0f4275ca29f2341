"""Corrections after publishing: the ledger, and all that has to change because of a record in it."""
