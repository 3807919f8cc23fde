"""Measure an old concrete slab and say whether to pour over it, patch it or break it out.

The stages are folders in the order of the work: acquire, calibrate, detect, measure, observe,
propose, rate, score, takeoff, transmit. :mod:`analyzer.chain` calls them; every stage stands on
the base modules ``records``, ``frames``, ``terms``, ``units`` and ``errors`` and on no other
stage.
"""

__version__ = "0.1.0"
