"""The braid: its topology, its lattice of beads, designs, stringing lists, pictures, paper."""
