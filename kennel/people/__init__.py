"""Who may act: carers, kennels, memberships, invitations, devices.

These are identity tables.  They are read before a kennel is known, so they carry no row-level security; only
`kennel.people.selectors` reads them, and everything else asks it.
"""
