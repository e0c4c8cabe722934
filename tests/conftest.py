"""Fixtures for all tests."""

pytest_plugins = ["tests.rig", "tests.rig_sound"]
