"""Every episode of a workshop in one index: what was written, said, used and flagged, and where."""
