#!/usr/bin/env bash
# Makes .venv and installs drainscale into it, editable, at the tested versions.
# Called by the Makefile whenever pyproject.toml or constraints.txt is newer than the stamp.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

EXTRAS="${EXTRAS:-server,sim,dev,hardware}"
STAMP=.venv/.ready

fail() { printf 'drainscale setup: %s\n' "$*" >&2; exit 1; }
say() { printf 'drainscale setup: %s\n' "$*"; }

is_new_enough() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; }

# The interpreter that was asked for, else the first on the path that is new enough.
find_python() {
    local name
    for name in ${PYTHON:-python3 python3.14 python3.13 python3.12 python3.11}; do
        if command -v "$name" >/dev/null && is_new_enough "$name"; then
            echo "$name"
            return
        fi
    done
    [ -z "${PYTHON:-}" ] || fail "PYTHON=$PYTHON is not there, or older than 3.11"
    if command -v python3 >/dev/null; then
        fail "Python 3.11 or newer is needed; python3 here is $(python3 -V 2>&1 | cut -d' ' -f2)." \
            "Install a newer one, or name it: make PYTHON=/path/to/python3.12"
    fi
    fail "Python 3.11 or newer is needed, and there is no python3 on the path"
}

can_make_venv() { "$1" -c 'import ensurepip, venv' 2>/dev/null; }

# Installs one Debian package, as root or through sudo.
apt_install() {
    local as_root=()
    if [ "$(id -u)" -ne 0 ]; then
        command -v sudo >/dev/null || { say "not root and no sudo"; return 1; }
        as_root=(sudo)
    fi
    "${as_root[@]}" apt-get update -qq &&
        DEBIAN_FRONTEND=noninteractive "${as_root[@]}" apt-get install -y -qq "$1"
}

# Debian and its children ship the venv module without its pip: fetch that part.
need_venv_module() {
    can_make_venv "$1" && return
    local version package
    version=$("$1" -c 'import sys; print("%d.%d" % sys.version_info[:2])')
    package="python${version}-venv"
    command -v apt-get >/dev/null ||
        fail "$1 lacks the modules venv and ensurepip; install your system's package for them"
    say "installing $package with apt: it holds the part of Python that makes .venv"
    apt_install "$package" ||
        fail "apt could not install $package: install it by hand, then try again"
    can_make_venv "$1" || fail "$1 still lacks the modules venv and ensurepip: it is not Debian's own"
}

# The uplink is tested against a broker that redelivers as MQTT wants it; no package of the Python
# index ships one. Without it those tests are skipped and say so. Only for tests: each starts its
# own on a free loopback port.
want_mosquitto() {
    PATH="$PATH:/usr/sbin:/usr/local/sbin" command -v mosquitto >/dev/null && return
    if ! command -v apt-get >/dev/null; then
        say "no mosquitto here and no apt: the tests with it will be skipped"
        return
    fi
    say "installing mosquitto with apt: the MQTT broker that the uplink is tested against"
    apt_install mosquitto || say "apt could not install mosquitto: the tests with it will be skipped"
}

# The drawings of the hardware and its driver stages, laid out and simulated by programs that no
# package of the Python index ships. Without one of them its tests fail and name it.
want_drawing_tools() {
    local program package
    for package in graphviz ngspice; do
        program=$package
        [ "$package" != graphviz ] || program=dot
        command -v "$program" >/dev/null && continue
        if ! command -v apt-get >/dev/null; then
            say "no $program here and no apt: install your system's package $package"
            continue
        fi
        say "installing $package with apt: the hardware's drawings and checks need it"
        apt_install "$package" || say "apt could not install $package: its tests will fail"
    done
}

# The board is looked at in a real browser, with the driver of the same build; without them its
# tests fail and name it.
want_chromium() {
    command -v chromium >/dev/null && command -v chromedriver >/dev/null && return
    if ! command -v apt-get >/dev/null; then
        say "no chromium and chromedriver here and no apt: install your system's packages"
        return
    fi
    say "installing chromium and chromium-driver with apt: the board's tests look through them"
    { apt_install chromium && apt_install chromium-driver; } ||
        say "apt could not install chromium and chromium-driver: the board's tests will fail"
}

# axe-core, the checker of accessibility, comes inside a wrapper whose own browser is not wanted.
install_axe() {
    .venv/bin/python -m pip install --quiet --disable-pip-version-check \
        -c constraints.txt --no-deps axe-playwright-python || fail "pip could not install axe-core (see above)"
}

main() {
    # an environment that lost its interpreter (a system upgrade) is made anew
    if ! { is_new_enough .venv/bin/python && .venv/bin/python -m pip --version; } >/dev/null 2>&1; then
        local python
        python=$(find_python)
        need_venv_module "$python"
        say "making .venv with $("$python" -V)"
        "$python" -m venv --clear .venv
    fi
    say "installing drainscale[$EXTRAS] into .venv"
    .venv/bin/python -m pip install --quiet --disable-pip-version-check \
        -c constraints.txt -e ".[$EXTRAS]" || fail "pip could not install the dependencies (see above)"
    # without its lgpio: the simulated board brings a stand-in, and lgpio has no wheel for all Pythons
    case ",$EXTRAS," in *,sim,*)
        .venv/bin/python -m pip install --quiet --disable-pip-version-check \
            -c constraints.txt --no-deps rpi-lgpio || fail "pip could not install rpi-lgpio (see above)" ;;
    esac
    case ",$EXTRAS," in *,dev,*)
        install_axe
        want_mosquitto
        want_chromium ;;
    esac
    case ",$EXTRAS," in *,hardware,*) want_drawing_tools ;; esac
    touch "$STAMP"
}

main
