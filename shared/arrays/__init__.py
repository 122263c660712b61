"""Array code for any purpose: ragged arrays, planar geometry, splines, thinning."""
