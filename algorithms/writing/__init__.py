"""Arrays into layers: sinks, styles, curves."""
