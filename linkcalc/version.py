"""The version of linkcalc."""

__all__ = ["__version__"]

__version__ = "0.1.0.dev0"
