"""``python -m himotif.convert`` is the command ``himotif``."""

from .cli import main

main(prog_name="himotif")
