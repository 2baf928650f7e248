#!/bin/sh
# Make the Python environment of the project, from the pinned and hashed lock, and compile the kernels.
#
#   sh .ci/set_up.sh [--runtime] [--without-kernels] [folder]
#
# --runtime           only what the service runs on, not what the checks need
# --without-kernels   install only; the kernels are compiled later or at the first call
# folder              where the environment goes; default: .venv at the top of the project
#
# Works from any directory. A second run with an unchanged lock installs nothing.
set -eu

root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
lock=requirements-test.txt
kernels=yes
environment=
for argument in "$@"; do
    case $argument in
        --runtime) lock=requirements.txt ;;
        --without-kernels) kernels=no ;;
        -*)
            echo "set_up.sh: unknown option $argument; known: --runtime, --without-kernels" >&2
            exit 2
            ;;
        *)
            if [ -n "$environment" ]; then
                echo "set_up.sh: more than one folder: $environment and $argument" >&2
                exit 2
            fi
            environment=$argument
            ;;
    esac
done
case $environment in
    '') environment=$root/.venv ;;
    /*) ;;
    *) environment=$(pwd)/$environment ;;
esac

# A usable interpreter is new enough, able to make environments, and really there: a version
# manager's placeholder answers to its name and then fails.
is_usable() {
    "$1" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

find_python() {
    for candidate in "${VELAMEN_PYTHON:-}" python3 python3.11 python3.12 python3.13 python3.14 python; do
        if [ -n "$candidate" ] && is_usable "$candidate"; then
            echo "$candidate"
            return 0
        fi
    done
    echo 'set_up.sh: no Python 3.11 or newer with the modules venv and ensurepip was found.' >&2
    echo 'Install one (on Debian: python3 and python3-venv), or name it in VELAMEN_PYTHON.' >&2
    return 1
}

digest_of() {
    "$python" -c 'import hashlib, sys; print(hashlib.sha256(open(sys.argv[1], "rb").read()).hexdigest())' \
        "$root/.ci/$1"
}

if ! is_usable "$environment/bin/python"; then
    base=$(find_python)
    echo "Making $environment with $("$base" --version)"
    "$base" -m venv --clear "$environment"
fi
python=$environment/bin/python

stamp=$environment/installed-lock.sha256
installed=$(cat "$stamp" 2>/dev/null || echo none)
wanted=$(digest_of "$lock")
# The lock of the checks contains the whole lock of the service.
if [ "$installed" != "$wanted" ] && [ "$installed" != "$(digest_of requirements-test.txt)" ]; then
    echo "Installing $lock"
    rm -f "$stamp"
    "$python" -m pip install -qq --disable-pip-version-check --no-input --require-hashes \
        --requirement "$root/.ci/$lock"
    echo "$wanted" >"$stamp"
fi

if [ "$kernels" = yes ]; then
    echo 'Compiling the kernels'
    (cd "$root" && "$python" -m service prepare)
fi
