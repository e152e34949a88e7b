"""Intervals for shares, medians and means: what a handful of notes can and cannot say."""

from __future__ import annotations

from collections.abc import Sequence
from math import comb, sqrt
from statistics import fmean, stdev

Z_95 = 1.959963984540054  # two-sided 95 % point of the normal distribution


def wilson(hits: int, of: int) -> tuple[float, float] | None:
    """Wilson's 95 % score interval for a share (JASA 22, 1927), or None for a share of nothing."""
    if of == 0:
        return None
    share, z2 = hits / of, Z_95**2
    centre = (share + z2 / (2 * of)) / (1 + z2 / of)
    half = Z_95 * sqrt(share * (1 - share) / of + z2 / (4 * of * of)) / (1 + z2 / of)
    return (max(0.0, centre - half), min(1.0, centre + half))


def median_interval(values: Sequence[float]) -> tuple[float, float] | None:
    """An interval that holds the median with at least 95 %, by order statistics, or None under six values.

    It assumes no distribution: the number of values under the median is binomial (n, 1/2). With fewer than six values
    even the smallest and the largest hold the median with less than 95 %.
    """
    ordered, n, tail, rank = sorted(values), len(values), 0.0, 0
    while rank < n and (tail := tail + comb(n, rank) / 2**n) <= 0.025:
        rank += 1
    return (ordered[rank - 1], ordered[n - rank]) if rank else None


def mean_error(values: Sequence[float]) -> float | None:
    """The standard error of the mean of independent values, or None under two."""
    return stdev(values) / sqrt(len(values)) if len(values) > 1 else None


def mean(values: Sequence[float]) -> float | None:
    """The mean, or None of nothing."""
    return fmean(values) if values else None
