"""Fuzzing of the parsers, by hand and out of the ordinary tests; what it found is replayed by `test_crashers`."""
