"""The printed papers and the web sheet."""
