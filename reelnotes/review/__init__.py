"""Decisions made by hand: read from kept.toml, honoured in every draft."""
