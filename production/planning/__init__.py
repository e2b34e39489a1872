"""The planning core: plain dataclasses in, plain results out. No Django, no clock, no settings."""
