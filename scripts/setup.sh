#!/bin/sh
# Installs what a Debian machine with Rust lacks to build and test loadwalk. Does nothing when all is
# there; says what to install by hand on a machine without apt-get.
set -eu

missing=""
need() { # need COMMAND PACKAGE
    command -v "$1" >/dev/null 2>&1 || missing="$missing $2"
}
need_lib() { # need_lib PKG-CONFIG-NAME PACKAGE
    pkg-config --exists "$1" 2>/dev/null || missing="$missing $2"
}

need cargo "(Rust, from its installer)"
need make make
need cmake cmake
need c++ g++
need pkg-config pkg-config
need espeak-ng espeak-ng
need_lib alsa libasound2-dev
python3 -m pip --version >/dev/null 2>&1 || missing="$missing python3-pip"

[ -n "$missing" ] || exit 0
case "$missing" in
*"(Rust"*)
    echo "setup: Rust is missing; install it with its installer, then run this again" >&2
    exit 3
    ;;
esac
if ! command -v apt-get >/dev/null 2>&1; then
    echo "setup: this machine lacks:$missing; install them with its package manager" >&2
    exit 3
fi
as_root=""
if [ "$(id -u)" != 0 ]; then
    command -v sudo >/dev/null 2>&1 || {
        echo "setup: ask an administrator for: apt-get install$missing" >&2
        exit 3
    }
    as_root=sudo
fi
echo "setup: installing$missing" >&2
$as_root apt-get update -qq
# shellcheck disable=SC2086 # a list of packages
DEBIAN_FRONTEND=noninteractive $as_root apt-get install -y -qq --no-install-recommends $missing >/dev/null
