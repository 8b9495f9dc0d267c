"""Finds Chromium for the browser tests, and has Debian install it for root when it is missing."""

import ctypes
import os
import shutil
import subprocess

# The program that drives the browser comes with its package, this library does not.
DRIVER_NEEDS = "libatomic.so.1"
NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")


def find(*, may_install: bool) -> tuple[str | None, str]:
    """Path of the browser and nothing, or nothing and the reason."""
    if chosen := os.environ.get("CHROMIUM"):
        return (
            (chosen, "")
            if os.access(chosen, os.X_OK)
            else (None, f"CHROMIUM names {chosen}, which cannot be run")
        )
    found = _installed()
    if found and _driver_can_run():
        return found, ""
    lacks = f"{DRIVER_NEEDS} is" if found else "Chromium is"
    if not may_install:
        return None, f"{lacks} not installed (CHROMIUM names another browser)"
    if os.geteuid() != 0 or not shutil.which("apt-get"):
        return None, f"{lacks} not installed, and only root on Debian can have it installed"
    print("Installing Chromium for the browser tests ...", flush=True)
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for words in (["update"], ["install", "--yes", "--no-install-recommends", "chromium", "libatomic1"]):
        done = subprocess.run(
            ["apt-get", "-qq", *words], env=quiet, capture_output=True, text=True, check=False
        )
        if done.returncode:
            lines = done.stderr.strip().splitlines()
            return None, f"Chromium could not be installed ({lines[-1] if lines else 'apt-get failed'})"
    found = _installed()
    return found, "" if found else "Chromium was installed but cannot be found"


def _installed() -> str | None:
    return next((path for name in NAMES if (path := shutil.which(name))), None)


def _driver_can_run() -> bool:
    try:
        ctypes.CDLL(DRIVER_NEEDS)
    except OSError:
        return False
    return True
