"""From a picture file to flat colours or shades."""
