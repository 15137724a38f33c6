"""From measurements to top off, purge, reject or rescan, with no image in sight."""
