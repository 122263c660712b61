#!/usr/bin/env bash
# Passes the tests, after setting up what they need. Arguments go to pytest: bash tests/run.sh -k screening
# With --long all of them, and many more examples of each property.
set -euo pipefail

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
bash "$root/setup.sh" cluster
cd "$root"
# As many workers as processors, at most four: each starts a QGIS, and many tests start processes of their own.
workers=$(nproc)
[ "$workers" -le 4 ] || workers=4
# Where a machine keeps no compiled modules, each process would compile everything anew.
export PYTHONDONTWRITEBYTECODE=
# Each test process has one processor: more threads of BLAS would but wait for it. The long run takes as many as there are.
case " $* " in *" --long "*) ;; *) export OPENBLAS_NUM_THREADS=1 ;; esac
# No screen is needed. (pytest-qgis keeps the user's own profile out of it: .qgis-settings.)
QT_QPA_PLATFORM=offscreen exec "$root/.venv/bin/python" -m pytest \
    --numprocesses "$workers" --dist loadfile --no-loadscope-reorder "$@"
