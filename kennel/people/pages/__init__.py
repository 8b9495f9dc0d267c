"""Pages about people: members, invitations, devices, the shared tablet, the account, the settings."""
