"""The sound devices: which there are, one duplex stream, its faults, and the check before the first count-in."""
