"""From a file to pixels: what the picture is, how it was made, and whether it can be trusted."""
