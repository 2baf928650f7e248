#!/bin/sh
# Install the client programs that the tests marked `client` drive, each pinned, and say which they are.
#
#   sh .ci/set_up_clients.sh [folder]
#
# folder   where they go; default: .clients at the top of the project
#
# LibreOffice Calc, Chromium, curl and HAProxy come from the Debian archive, when they are missing and this runs as
# root; everything else stays in the folder. What cannot be had is an error: nothing is left out.
set -eu

root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
clients=${1:-$root/.clients}
case $clients in
    /*) ;;
    *) clients=$(pwd)/$clients ;;
esac
locks=$root/.ci/clients
mkdir -p "$clients"

give_up() {
    echo "set_up_clients.sh: $1" >&2
    exit 1
}

digest_of() {
    sha256sum "$@" | sha256sum | cut -d ' ' -f 1
}

# $1: a folder, $2: the digest of its lock. True when it was filled from that very lock.
is_filled() {
    [ "$(cat "$1/installed-lock.sha256" 2>/dev/null || echo none)" = "$2" ]
}

has_bridge() {
    [ -x /usr/bin/python3 ] && /usr/bin/python3 -c 'import uno' >/dev/null 2>&1
}

if ! command -v curl >/dev/null || ! command -v soffice >/dev/null || ! has_bridge; then
    if [ "$(id -u)" -ne 0 ] || ! command -v apt-get >/dev/null; then
        give_up 'install curl, LibreOffice Calc and its bridge to Python (libreoffice-calc, python3-uno).'
    fi
    echo 'Installing LibreOffice Calc'
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -qq -y --no-install-recommends \
        curl libreoffice-calc python3-uno >/dev/null
fi

if ! command -v chromium >/dev/null; then
    if [ "$(id -u)" -ne 0 ] || ! command -v apt-get >/dev/null; then
        give_up 'install Chromium.'
    fi
    echo 'Installing Chromium'
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -qq -y --no-install-recommends \
        chromium fonts-dejavu-core >/dev/null
fi

PATH=$PATH:/usr/sbin
if ! command -v haproxy >/dev/null || ! command -v openssl >/dev/null; then
    if [ "$(id -u)" -ne 0 ] || ! command -v apt-get >/dev/null; then
        give_up 'install HAProxy and OpenSSL (haproxy, openssl).'
    fi
    echo 'Installing HAProxy'
    apt-get update -qq
    # RUNLEVEL: its own service is not started.
    RUNLEVEL=1 DEBIAN_FRONTEND=noninteractive apt-get install -qq -y --no-install-recommends \
        haproxy openssl >/dev/null
fi

# Node-RED 4 runs on Node 18.5 and newer.
node -e 'const [major, minor] = process.versions.node.split(".").map(Number);
process.exit(major > 18 || (major === 18 && minor >= 5) ? 0 : 1)' ||
    give_up 'install Node.js 18.5 or newer, with npm.'
wanted=$(digest_of "$locks/package.json" "$locks/package-lock.json")
if ! is_filled "$clients/node_red" "$wanted"; then
    echo 'Installing Node-RED'
    mkdir -p "$clients/node_red"
    cp "$locks/package.json" "$locks/package-lock.json" "$clients/node_red/"
    (cd "$clients/node_red" && npm ci --ignore-scripts --no-audit --no-fund --loglevel=error)
    echo "$wanted" >"$clients/node_red/installed-lock.sha256"
fi

# Packages of the npm registry, each in a folder of its own: a driver for Chromium with a judge of
# accessibility, and the linters of the contract.
for name in browser contract; do
    wanted=$(digest_of "$locks/$name/package.json" "$locks/$name/package-lock.json")
    if ! is_filled "$clients/$name" "$wanted"; then
        echo "Installing $name"
        mkdir -p "$clients/$name"
        cp "$locks/$name/package.json" "$locks/$name/package-lock.json" "$clients/$name/"
        (cd "$clients/$name" && npm ci --ignore-scripts --no-audit --no-fund --loglevel=error)
        echo "$wanted" >"$clients/$name/installed-lock.sha256"
    fi
done

# The release of Home Assistant that is driven runs on Python 3.11 and on no newer one.
find_python() {
    for candidate in "${VELAMEN_PYTHON:-}" "$root/.venv/bin/python" python3.11 python3; do
        if [ -n "$candidate" ] &&
            "$candidate" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info[:2] != (3, 11))' \
                >/dev/null 2>&1; then
            echo "$candidate"
            return 0
        fi
    done
    return 1
}

for name in home-assistant typed-client; do
    wanted=$(digest_of "$locks/$name.txt")
    if ! is_filled "$clients/$name" "$wanted"; then
        echo "Installing $name"
        base=$(find_python) || give_up 'install Python 3.11, which Home Assistant of that release needs.'
        "$base" -m venv --clear "$clients/$name"
        "$clients/$name/bin/python" -m pip install -qq --disable-pip-version-check --no-input \
            --require-hashes --requirement "$locks/$name.txt"
        echo "$wanted" >"$clients/$name/installed-lock.sha256"
    fi
done

curl --version | head -n 1 | cut -d ' ' -f 1-2
soffice --version
chromium --version 2>/dev/null
haproxy -v | head -n 1
printf 'Node-RED %s on Node %s\n' \
    "$(node -p "require('$clients/node_red/node_modules/node-red/package.json').version")" "$(node --version)"
"$clients/home-assistant/bin/python" -m pip list --disable-pip-version-check 2>/dev/null | grep '^homeassistant '
"$clients/typed-client/bin/python" -m pip list --disable-pip-version-check 2>/dev/null | grep '^openapi-python-client '
