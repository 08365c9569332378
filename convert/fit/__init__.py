"""Where a flat sketch lies on the braid, how large, and which bead goes where."""
