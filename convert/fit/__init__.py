"""Where the sketch lies and which bead goes where."""
