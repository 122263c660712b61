#!/usr/bin/env bash
# Runs the main job on the sample project and compares the result with its legacy basemap and check points, from a bare
# Debian 12 or 13 to an updated basemap, a map, a table and three reports.
#
#   bash sample_project/run.sh [FOLDER]     results go to sample_project/out, or to FOLDER
set -euo pipefail

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
bash "$root/setup.sh"
QT_QPA_PLATFORM=offscreen "$root/.venv/bin/python" "$root/sample_project/run.py" "$@"
