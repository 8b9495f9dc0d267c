"""Loaded by every Python process of the tests' server at its start: `timezone.now()` is moved by a mapped offset.

It lies in the tests and comes into force only when its folder is on PYTHONPATH and KENNEL_TEST_CLOCK names the
file; `deploy` sets PYTHONPATH itself and never names this folder, so no server that people start can load it.
The whole product reads the time from `django.utils.timezone.now` alone. Timers (beat, leases of sockets,
sleeping) keep the machine's clock.
"""

import datetime
import mmap
import os
import struct

if _file := os.environ.get("KENNEL_TEST_CLOCK"):
    from django.utils import timezone

    _descriptor = os.open(_file, os.O_RDONLY)
    _offset_s = mmap.mmap(_descriptor, 8, prot=mmap.PROT_READ)
    os.close(_descriptor)

    def _moved_now() -> datetime.datetime:
        (seconds,) = struct.unpack("<d", _offset_s[:8])
        return datetime.datetime.now(datetime.UTC) + datetime.timedelta(seconds=seconds)

    timezone.now = _moved_now
