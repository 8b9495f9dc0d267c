"""Tests of the kennel server.  They mirror the code; real PostgreSQL and Valkey stand behind all that touches data."""
