"""Servo and linkage sizing for people who build their own aircraft."""

__version__ = "0.1.0.dev0"
