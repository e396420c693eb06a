"""Gauges, their checks and studies."""
