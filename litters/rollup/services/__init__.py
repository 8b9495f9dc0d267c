"""Marking days whose facts changed, and computing them."""
