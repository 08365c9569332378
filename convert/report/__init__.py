"""What the braid does to the sketch, and braids side by side."""
