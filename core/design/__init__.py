"""A design, its file, its lists, and what changes it."""
