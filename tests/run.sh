#!/usr/bin/env bash
# Passes the tests, after setting up what they need. Arguments go to pytest: bash tests/run.sh -k screening
set -euo pipefail

root=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
bash "$root/setup.sh"
cd "$root"
# The tests' QGIS must neither need a screen nor read or change the user's own profile.
profile=$(mktemp -d)
trap 'rm -rf "$profile"' EXIT
export QT_QPA_PLATFORM=offscreen XDG_DATA_HOME="$profile" QGIS_CUSTOM_CONFIG_PATH="$profile/qgis"
"$root/.venv/bin/python" -m pytest "$@"
