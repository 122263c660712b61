#!/usr/bin/env bash
# Passes the tests, after setting up what they need. Arguments go to pytest: bash tests/run.sh -k screening
set -euo pipefail

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
bash "$root/setup.sh" cluster
cd "$root"
# No screen is needed. (pytest-qgis keeps the user's own profile out of it: .qgis-settings.)
QT_QPA_PLATFORM=offscreen exec "$root/.venv/bin/python" -m pytest "$@"
