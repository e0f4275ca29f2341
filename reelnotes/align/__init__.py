"""Where in the programme each entry of the log is told or shown."""
