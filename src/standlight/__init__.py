"""Standlight: every musician of a school's ensembles heard, answered and seen growing.

The package is a house of rooms; ARCHITECTURE.md draws them. Pure rooms
(``music``, ``score``, ``sound``, ``criteria``, ``listening``, ``ratings``)
compute from one frozen value to another; ``programme`` stores, ``web`` shows.
"""

__version__ = "0.1.0"
