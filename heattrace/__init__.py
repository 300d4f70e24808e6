"""Heat records and quality traceability of a continuous-casting shop."""

__version__ = "0.1.0"
