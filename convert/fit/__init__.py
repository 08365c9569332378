"""Where a flat sketch lies on the braid, how large, and which bead goes where.

A sketch becomes features once (`features`); a size lays it over a patch of the lattice at all
places at once (`patch`, `energy`); the best are improved bead by bead (`optimise`); sizes are tried
from the smallest (`size`); what was found is laid on the beads of a braid (`laying`), and other
ways are offered beside it (`choices`).
"""
