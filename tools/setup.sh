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
    run) pip install --editable '.[telephones]' ;;
    dev) pip install --editable '.[telephones]' --group dev ;;
    *) say "setup.sh run|dev" >&2; exit 2 ;;
esac

# What the checks of the pages need beside Python: a browser, a type checker, a database server.
missing=''
want() { command -v "$1" >/dev/null 2>&1 || missing="$missing $2"; }
if [ "$kind" = dev ]; then
    want chromium chromium
    want node nodejs
    want npm npm
    [ -f /usr/share/dictd/gcide.dict.dz ] || missing="$missing dict-gcide"
    [ -d /usr/lib/postgresql ] || missing="$missing postgresql"
    if [ -n "$missing" ] && command -v apt-get >/dev/null 2>&1 &&
        { [ "$(id -u)" = 0 ] || sudo -n true 2>/dev/null; }; then
        say "Installing for the checks of the pages:$missing ..."
        as_root apt-get update -qq
        # shellcheck disable=SC2086 # one word a package
        as_root apt-get install -y -qq --no-install-recommends $missing
    elif [ -n "$missing" ]; then
        say "Not installed:$missing. Some checks of the pages will be left out, and will say so." >&2
    fi
    if command -v npm >/dev/null 2>&1 && ! [ -d "$VENV/npm/node_modules/axe-core" ]; then
        mkdir -p "$VENV/npm"
        npm install --prefix "$VENV/npm" --no-save --no-audit --no-fund --loglevel=error \
            typescript@5.9.3 axe-core@4.14.1 @types/audioworklet@0.0.100
    fi
fi
touch "$VENV/.$kind"
