"""Shapes in mm and their three back ends."""
