"""What the braid will look like, and what it does to the sketch."""
