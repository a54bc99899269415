#!/bin/sh
# Make the virtual environment: `setup.sh run` for using the tool, `setup.sh dev` for testing it too.
set -eu
: "${PYTHON:=python3}" "${VENV:=.venv}"
kind=${1:-run}

say() { printf '%s\n' "$*"; }

as_root() {
    if [ "$(id -u)" = 0 ]; then "$@"; elif command -v sudo >/dev/null 2>&1; then sudo "$@"; else
        say "This step needs an administrator: $*" >&2; exit 1; fi
}

if ! "$PYTHON" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
    say "chantwright needs Python 3.11 or newer; $PYTHON is $("$PYTHON" --version 2>&1)." >&2
    say "Install a newer one, or name it: make demo PYTHON=/path/to/python3.12" >&2
    exit 1
fi

if ! [ -x "$VENV/bin/python" ] || ! "$VENV/bin/python" -m pip --version >/dev/null 2>&1; then
    say "Making a virtual environment in $VENV ..."
    rm -rf "$VENV"
    if ! "$PYTHON" -m venv "$VENV" >/dev/null 2>&1; then
        # Debian keeps the venv module in a package of its own.
        as_root apt-get update -qq
        as_root apt-get install -y -qq python3-venv
        rm -rf "$VENV"
        "$PYTHON" -m venv "$VENV"
    fi
fi

pip() { "$VENV/bin/python" -m pip --disable-pip-version-check --quiet "$@"; }

say "Installing what chantwright needs ($kind) ..."
pip install --upgrade 'pip>=25.1'          # dependency groups came with 25.1
case $kind in
    run) pip install --editable . ;;
    dev) pip install --editable . --group dev ;;
    *) say "setup.sh run|dev" >&2; exit 2 ;;
esac
# What looks at the practice pack: a browser, and Node with a type checker and an accessibility checker.
# Without them those tests are skipped, loudly.
browser_tools() {
    if command -v apt-get >/dev/null 2>&1; then
        missing=
        for program in chromium node npm; do
            command -v "$program" >/dev/null 2>&1 || missing="$missing $program"
        done
        if [ -n "$missing" ]; then
            say "Installing for the tests in a browser:$missing"
            packages=$(printf '%s' "$missing" | sed 's/\bnode\b/nodejs/')
            # shellcheck disable=SC2086
            { as_root apt-get update -qq && as_root apt-get install -y -qq $packages; } || return 1
        fi
    fi
    command -v npm >/dev/null 2>&1 || return 1
    mkdir -p "$VENV/node"
    [ -e "$VENV/node/node_modules/axe-core" ] || npm --prefix "$VENV/node" install --silent \
        --no-audit --no-fund typescript@5.9.3 axe-core@4.14.1 @types/audioworklet
}
if [ "$kind" = dev ]; then
    browser_tools || say "WITHOUT a browser and Node the tests of the practice pack will be skipped." >&2
fi
touch "$VENV/.$kind"
