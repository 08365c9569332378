"""Beads and their colours: palette files, colour difference, matching, choosing."""
