"""How well it reads, and what would read better."""
