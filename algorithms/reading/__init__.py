"""Layers into arrays."""
