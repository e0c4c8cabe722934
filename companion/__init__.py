"""Lesson Companion: whole-class marks by voice or key, from the lesson to the hand-off note."""

import os

os.environ["ORT_DISABLE_TELEMETRY"] = "1"
"""The library that runs the networks looks up its maker's server and keeps a device number in the user's
cache unless this is set before it is loaded. Here it comes before every module of the program, whichever
process, child or script imports one; `listening/runtime` loads the library."""
