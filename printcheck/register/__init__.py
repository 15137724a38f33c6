"""Where every millimetre of the ideal page lies in the picture."""
