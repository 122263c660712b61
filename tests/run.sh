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
# The tests write thousands of small databases, each of which waits for the disk when it is closed: where memory can take
# them (they need well below a gigabyte), they are written there, unless TMPDIR says where.
memory=
clean_up() {
    local status=$?
    [ -z "$memory" ] || rm -rf "$memory"
    exit "$status"
}
trap clean_up EXIT
trap 'exit 130' INT TERM
if [ -z "${TMPDIR:-}" ] && [ "$(df --output=avail --block-size=1M /dev/shm 2>/dev/null | tail -n 1)" -ge 3000 ] 2>/dev/null; then
    memory=$(mktemp -d /dev/shm/curbwright-tests.XXXXXX)
    export TMPDIR=$memory
fi
# No screen is needed. (pytest-qgis keeps the user's own profile out of it: .qgis-settings.)
QT_QPA_PLATFORM=offscreen "$root/.venv/bin/python" -m pytest \
    --numprocesses "$workers" --dist loadfile --no-loadscope-reorder "$@"
