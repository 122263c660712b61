#!/usr/bin/env bash
# Makes a bare Debian 12 or 13 ready for Curbwright, and builds the zip that QGIS installs.
#
#   bash setup.sh             QGIS and the Python packages, as far as they are missing (root or sudo)
#   bash setup.sh cluster     the same, and what shared/partitions needs: Dask, GeoParquet, projections
#   bash setup.sh zip [FILE]  the installable zip, curbwright-<version>.zip beside this file by default
set -euo pipefail

root=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
venv=$root/.venv

# The package `qgis` is there for qgis_process alone. ca-certificates: pip, fonts: the map.
debian_packages=(qgis python3-qgis qgis-providers python3-gdal python3-scipy python3-matplotlib python3-venv
                 ca-certificates fonts-dejavu-core)
python_packages=("pytest>=8,<10" "pytest-qgis>=5,<6" "pytest-timeout>=2.2,<3" "pytest-xdist>=3.6,<4" "hypothesis>=6.100,<7" "pynmea2>=1.19,<2" "ruff>=0.17,<0.18" "mypy>=1.19,<3" "markdown>=3.5,<4")
# Later pyarrow needs numpy 2, and Python 3.14 needs a later pyarrow. pyproj: newer than Debian's, which does not find PROJ's data from inside .venv.
projections="pyproj>=3.7.2,<4"
cluster_packages=("dask[distributed]>=2026.1,<2027" "pyarrow>=18,<21; python_version<'3.14'" "pyarrow>=22; python_version>='3.14'" "$projections")

say() { printf 'setup: %s\n' "$*" >&2; }
fail() { say "$*"; exit 1; }

as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        "$@"
    elif command -v sudo >/dev/null; then
        sudo -- "$@"
    else
        fail "Debian packages are missing and neither root nor sudo is at hand. Run as root: apt-get install --no-install-recommends ${missing[*]}"
    fi
}

try_three_times() {
    local try
    for try in 1 2 3; do
        "$@" && return
        say "try $try of 3 failed: $*"
        [ "$try" -eq 3 ] || sleep $((try * 5))
    done
    return 1
}

install_debian_packages() {  # those of the arguments that are not installed
    local name missing=()
    for name in "$@"; do
        [ "$(dpkg-query --show --showformat='${db:Status-Status}' "$name" 2>/dev/null)" = installed ] || missing+=("$name")
    done
    [ ${#missing[@]} -gt 0 ] || return 0
    command -v apt-get >/dev/null || fail "this script sets up Debian 12 or 13; elsewhere install by hand what README.md names."
    say "installing from Debian, which may take some minutes: ${missing[*]}"
    local apt=(env DEBIAN_FRONTEND=noninteractive apt-get -qq -y -o Acquire::Retries=3 -o DPkg::Lock::Timeout=300 -o Dpkg::Use-Pty=0)
    try_three_times as_root "${apt[@]}" update || fail "the package lists could not be fetched; is the network there?"
    try_three_times as_root "${apt[@]}" install --no-install-recommends "${missing[@]}" >/dev/null \
        || fail "installing failed; the lines above say why."
}

if [ "${1:-}" = zip ]; then
    install_debian_packages python3
    exec /usr/bin/python3 "$root/.ci/package.py" "${@:2}"
fi
[ $# -eq 0 ] || [ "$*" = cluster ] || fail "“$*” is not known here; give nothing, cluster, or zip."

release=$(. /etc/os-release && echo "${ID:-}${VERSION_ID:-}")
case $release in
    # Debian 12 has shapely 1.8, which lacks the array functions. 2.0 from PyPI leaves Debian's numpy as it is.
    debian12) python_packages+=("shapely==2.0.*") ;;
    *) debian_packages+=(python3-shapely) ;;
esac
case $release in
    debian12 | debian13) ;;
    *) say "tried on Debian 12 and 13 only; this is ${release:-unknown}. Going on." ;;
esac
install_debian_packages "${debian_packages[@]}"

# Debian's scipy, GDAL and QGIS are built for one major version of numpy: PyPI's packages must not bring another.
numpy_major=$(/usr/bin/python3 -c 'import numpy; print(numpy.__version__.split(".")[0])')
python_packages+=("numpy==$numpy_major.*")

# One run of pip for all that is missing: it looks each of them up anew. Where the cluster's are to come, all are named, so
# that none is moved.
wanted=$(/usr/bin/python3 --version; printf '%s\n' "${python_packages[@]}")
wanted_cluster=$(printf '%s\n' "${cluster_packages[@]}")
present=$(cat "$venv/curbwright-packages" 2>/dev/null) || true
missing_packages=()
if [ "$present" != "$wanted" ]; then
    # Another Python begins anew; other versions of packages come into the folder that is there.
    if [ "${present%%$'\n'*}" != "${wanted%%$'\n'*}" ]; then
        /usr/bin/python3 -m venv --system-site-packages --clear "$venv"
    fi
    missing_packages=("${python_packages[@]}")
fi
if [ "${1:-}" = cluster ] && [ "$(cat "$venv/curbwright-cluster-packages" 2>/dev/null)" != "$wanted_cluster" ]; then
    missing_packages=("${cluster_packages[@]}" "${python_packages[@]}")
fi
if [ ${#missing_packages[@]} -gt 0 ]; then
    say "installing from PyPI into .venv: ${missing_packages[*]}"
    try_three_times "$venv/bin/python" -m pip --disable-pip-version-check --quiet install "${missing_packages[@]}" \
        || fail "PyPI's packages could not be installed; the lines above say why."
    # Where Debian has a version that would do, pip leaves it at that, which misses PROJ's data from inside .venv.
    if [ "${1:-}" = cluster ] && ! "$venv/bin/python" -c 'import pyproj; pyproj.CRS.from_epsg(4326)' 2>/dev/null; then
        try_three_times "$venv/bin/python" -m pip --disable-pip-version-check --quiet install \
            --ignore-installed --no-deps "$projections" || fail "pyproj could not be installed; the lines above say why."
    fi
    printf '%s\n' "$wanted" >"$venv/curbwright-packages"
    [ "${1:-}" != cluster ] || printf '%s\n' "$wanted_cluster" >"$venv/curbwright-cluster-packages"
fi

QT_QPA_PLATFORM=offscreen "$venv/bin/python" - >&2 <<'END' || fail "QGIS does not load in .venv; delete that folder and try again."
import platform, numpy, scipy, shapely
from qgis.core import Qgis
assert hasattr(shapely, "from_ragged_array"), f"shapely {shapely.__version__} is too old"
print(f"setup: ready. QGIS {Qgis.QGIS_VERSION.split('-')[0]}, Python {platform.python_version()}, "
      f"numpy {numpy.__version__}, scipy {scipy.__version__}, shapely {shapely.__version__}")
END
