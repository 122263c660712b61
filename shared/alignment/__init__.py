"""Tangents and arcs: search, chains, adjustment, and heights along them."""
