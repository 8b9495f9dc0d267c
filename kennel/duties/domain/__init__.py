"""Pure rules of duties and reminders: what to plan, whom to tell, when to send, what was missed.

Numbers, instants and frozen dataclasses in, the same out: no Django, no database, no clock, no randomness.
"""
