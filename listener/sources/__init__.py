"""Blocks of mono samples, each with its sample index and its gaps; latency is taken off here, once."""
