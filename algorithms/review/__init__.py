"""Layers of results as a reviewer needs them: the worklist, and the evidence behind a line."""
