"""Measured by hand, never timed as tests: two cores shared by many say little about speed."""
