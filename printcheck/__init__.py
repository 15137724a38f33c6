"""printcheck: a cartridge test sheet, measured.

Prints a diagnostic sheet, reads a scan or photo of it, measures every row of the head and says
``top-off``, ``purge``, ``reject`` or ``rescan``. The stages a sheet passes through are the packages:
``pattern`` -> ``capture`` -> ``register`` -> ``measure`` -> ``verdict`` -> ``report``; ``pipeline`` is the
whole flow on one screen.
"""

__version__ = "0.1.0"
