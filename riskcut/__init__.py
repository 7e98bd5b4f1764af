"""riskcut: how likely each part of a deep propped excavation is to fail at each stage, and what decides it."""

__version__ = "0.1.0"
