"""The braid: pairs, slots, the lattice of its beads."""
