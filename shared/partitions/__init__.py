"""The main job beyond one machine: partitioned GeoParquet in, GeoParquet edges out, distributed by
Dask.

An extra, started as a program (``__main__.py``). Nothing else imports it, and the packages that it
needs beyond those of the core (dask, pyarrow, pyproj) are imported only here.
"""
