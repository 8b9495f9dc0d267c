"""What keeps the server alive and its records safe: probes, backup, verification, restore, the erasure log."""
