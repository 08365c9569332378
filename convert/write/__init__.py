"""The folder, whole or not at all."""
