"""The shop's memory: every scored sheet, and what was done to the cartridge."""
