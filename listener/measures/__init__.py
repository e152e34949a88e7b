"""Measures of a whole chorus: landings, fit, hangover, functions, thirds, phrases, silence and timing."""

from listener.measures.chorus import MASTERS_GUIDE_SHARE, MASTERS_ROOT_SHARE, measure_chorus

__all__ = ["MASTERS_GUIDE_SHARE", "MASTERS_ROOT_SHARE", "measure_chorus"]
