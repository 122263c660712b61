"""The review panel: what deserves a look, the evidence behind it, and what people decide."""
