"""Tests of starting, stopping, crashing and checking: real processes, real PostgreSQL and Valkey."""
