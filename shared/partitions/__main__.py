"""Starts the command whatever the clone's folder is called: ``python shared/partitions IN OUT``."""

import importlib.util
import os
import sys
from pathlib import Path

if __name__ == "__main__":
    here = Path(__file__).resolve().parent
    # its modules have common names
    sys.path[:] = [path for path in sys.path if Path(path or ".").resolve() != here]
    # as Dask sets them for its workers
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ.setdefault(name, "1")
    root = here.parents[1]
    spec = importlib.util.spec_from_file_location(
        "curbwright", root / "__init__.py", submodule_search_locations=[str(root)]
    )
    sys.modules["curbwright"] = importlib.util.module_from_spec(spec)  # type: ignore[arg-type]
    from curbwright.shared.partitions.command import main

    sys.exit(main())
