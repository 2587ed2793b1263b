"""Fellside: a field log for people who lift wild trees, with the landholder's leave."""

__version__ = "0.1.0"
