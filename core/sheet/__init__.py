"""Paper: shapes and text laid out once, drawn to SVG and to PDF."""
