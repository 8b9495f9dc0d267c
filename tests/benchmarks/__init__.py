"""Benchmarks: ratios against a floor in the same run.  Not collected by pytest."""
