"""Pages of the health app."""
