"""What making the piece takes: lengths, materials, the swatch, finding the place."""
