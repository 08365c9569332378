"""Type sizes of the sheet, as body heights in mm: to be read at arm's length."""

POINT_MM = 25.4 / 72
"""Of desktop publishing, as PDF has it."""

BODY = 10.0 * POINT_MM
LIST = 9.2 * POINT_MM
SMALL = 9.0 * POINT_MM
"""Heads of tables, captions, feet. Drawings have sizes of their own."""
