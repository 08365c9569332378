"""From a picture to a folder a maker can work from, and the command line."""
