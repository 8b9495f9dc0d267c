"""Ways to reach a carer.  A channel is one module here that calls `register`; the pipeline knows nothing else of it.

Imported by `kennel/duties/registrations.py`.
"""

from kennel.duties.channels.registry import Channel, Outcome, Outgoing, Result, by_name, every, register

__all__ = ["Channel", "Outcome", "Outgoing", "Result", "by_name", "every", "register"]
