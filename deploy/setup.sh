# shellcheck shell=sh
# Sets up the virtual environment. Sourced by rehearse, check, test and lock, never run by itself.
# Needs $house, the folder of the checkout. Leaves $venv, the folder of the virtual environment.
#
# What a caller may set:
#   NEXTMORNING_VENV    where the virtual environment stands (otherwise .venv in the checkout)
#   NEXTMORNING_PYTHON  which Python makes it (otherwise the first one found, 3.11 or newer)

venv=${NEXTMORNING_VENV:-$house/.venv}
case $venv in
    /*) ;;
    *) venv=$(pwd -P)/$venv ;; # the working folder may change, the environment's place may not
esac

# Free space asked for before an installation [MB]. Measured: 140 for a rehearsal, 700 for the
# tests, on Debian 12; the rest is room for what pip unpacks on the way.
space_run=300
space_test=1000

say() {
    printf '%s\n' "$*"
}

stop() {
    printf '\n%s\n' "$*" >&2
    exit 1
}

is_root_with_apt() {
    [ "$(id -u)" -eq 0 ] && command -v apt-get >/dev/null 2>&1
}

# apt_install PACKAGE...: installs Debian packages; fails when apt-get does.
# The list of packages is fetched once a run: without it apt-get may know of nothing.
apt_listed=no
apt_install() {
    if [ "$apt_listed" = no ]; then
        DEBIAN_FRONTEND=noninteractive apt-get update -qq </dev/null || return 1
        apt_listed=yes
    fi
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" \
        </dev/null >/dev/null
}

# is_new_enough PYTHON: true for 3.11 and newer. A name that cannot be run is not.
is_new_enough() {
    "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

# find_python: leaves in $python the first Python that is new enough.
find_python() {
    if [ -n "${NEXTMORNING_PYTHON:-}" ]; then
        is_new_enough "$NEXTMORNING_PYTHON" ||
            stop "NEXTMORNING_PYTHON names $NEXTMORNING_PYTHON, which is not a Python 3.11 or newer."
        python=$NEXTMORNING_PYTHON
        return
    fi
    for python in python3.11 python3.12 python3.13 python3.14 python3; do
        if is_new_enough "$python"; then
            return
        fi
    done
    found=$(python3 --version 2>/dev/null) ||
        stop "nextmorning needs Python 3.11 or newer, and no Python was found. Install it (on Debian 12 and Ubuntu 24.04 or newer: apt-get install python3 python3-venv), then run this again."
    stop "nextmorning needs Python 3.11 or newer, and only $found was found. Install a newer one beside it, then run this again; NEXTMORNING_PYTHON may name it."
}

# free_in PLACE: prints how much is free there [MB]; 0 where there is no such place.
free_in() {
    df -Pk "$1" 2>/dev/null | awk 'NR == 2 { free = int($4 / 1024) } END { print free + 0 }'
}

# need_space MEGABYTES: stops where the environment's disk has less than that free.
need_space() {
    place=$venv
    while [ ! -d "$place" ]; do
        place=$(dirname -- "$place")
    done
    free=$(free_in "$place")
    [ "$free" -ge "$1" ] ||
        stop "The installation needs $1 MB free in $place, and $free MB are. Make room, or name a place on another disk: NEXTMORNING_VENV=/other/place sh deploy/$(basename -- "$0")"
}

# need_venv_module: Debian ships Python without the part that makes virtual environments.
need_venv_module() {
    if "$python" -c 'import ensurepip, venv' >/dev/null 2>&1; then
        return
    fi
    package=$("$python" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')
    if is_root_with_apt; then
        say "Installing $package, which Debian keeps apart from Python"
        if apt_install "$package" && "$python" -c 'import ensurepip' >/dev/null 2>&1; then
            return
        fi
    fi
    stop "This Python cannot make a virtual environment: its parts venv and ensurepip are missing. Install them (on Debian and Ubuntu, as root: apt-get install $package), then run this again."
}

# make_venv: makes the environment unless it is there, works, and was made for this place.
make_venv() {
    # Nor does it install into, or empty, what another checkout works with.
    if [ -L "$venv" ] && [ "$(cat "$venv/made-for" 2>/dev/null)" != "$house $venv" ]; then
        stop "$venv is a link to $(readlink "$venv"), which was not made for this checkout, so it was left alone. Remove the link, or name a folder in NEXTMORNING_VENV."
    fi
    if "$venv/bin/python" -c 'import pip' >/dev/null 2>&1 && is_new_enough "$venv/bin/python"; then
        # A copied or moved environment still points at the old one.
        if [ ! -f "$venv/made-for" ] || [ "$(cat "$venv/made-for")" = "$house $venv" ]; then
            return
        fi
    fi
    # Making one empties the folder: never one that holds something else.
    if [ -n "$(ls -A "$venv" 2>/dev/null)" ] && [ ! -f "$venv/pyvenv.cfg" ]; then
        stop "$venv is not empty and is no virtual environment, so it was left alone. Name an empty or a new folder in NEXTMORNING_VENV."
    fi
    find_python
    need_venv_module
    say "Making a virtual environment in $venv with $("$python" --version)"
    "$python" -m venv --clear "$venv" </dev/null ||
        stop "The virtual environment could not be made in $venv: the reason stands above. If this folder may not be written to, name another: NEXTMORNING_VENV=/other/place sh deploy/$(basename -- "$0")"
}

install_with_pip() {
    "$venv/bin/python" -m pip install --quiet --no-input --disable-pip-version-check "$@" \
        </dev/null ||
        stop "The installation failed: pip's message stands above. Most often the network was out of reach, or the disk filled up. What is there already is kept: run this again."
}

# set_up run|test: the environment with everything a rehearsal or the tests need, installed
# once for each state of the requirements.
set_up() {
    wanted=$1
    case $wanted in
        run) requirements=$house/deploy/requirements.txt space=$space_run ;;
        test) requirements=$house/deploy/requirements-test.txt space=$space_test ;;
    esac
    checksum=$(cat "$requirements" "$house/pyproject.toml" | cksum)
    if [ "$(cat "$venv/made-for" 2>/dev/null)" = "$house $venv" ] &&
        [ "$(cat "$venv/installed-$wanted" 2>/dev/null)" = "$checksum" ] &&
        is_new_enough "$venv/bin/python"; then
        return
    fi
    need_space "$space"
    make_venv
    say "Installing what nextmorning needs into $venv (a minute or two; each file's hash is checked)"
    install_with_pip --require-hashes --requirement "$requirements"
    install_with_pip --no-deps --no-build-isolation --editable "$house"
    printf '%s\n' "$house $venv" >"$venv/made-for"
    printf '%s\n' "$checksum" >"$venv/installed-$wanted"
}
