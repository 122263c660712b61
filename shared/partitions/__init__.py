"""The main job past one machine: partitioned GeoParquet in, GeoParquet edges out, shared out by
Dask.

An extra, started as a program (``__main__.py``). Nothing else imports it, and what it needs beyond
the core (dask, pyarrow, pyproj) is imported in here alone.
"""
