"""Chapters, materials with their cost, and promises, drafted from what was aligned."""
