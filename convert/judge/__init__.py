"""How well a design shows its sketch."""
