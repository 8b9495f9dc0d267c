"""Writes of the duties app: planning, releasing, sending, completing, taps.  One module per step."""
