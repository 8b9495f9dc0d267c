"""Computed reads of the feeding app."""
