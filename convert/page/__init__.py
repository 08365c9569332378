"""The local page: the whole job in a maker's browser, served to this machine alone."""
