"""Colour science: captured values to CIELAB, and differences between colours."""
