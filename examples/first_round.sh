#!/bin/sh
# From a fresh clone to the mixing sheet of one round: set up, start, ask, print, stop.
#
#   sh examples/first_round.sh [rows.csv]
#
# Needs a stock Python 3.11 or newer and nothing else. VELAMEN_VENV names an environment to use
# instead of .venv at the top of the project.
set -eu

root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
rows=${1:-$root/examples/glasshouse_round.csv}
environment=${VELAMEN_VENV:-$root/.venv}
if [ ! -r "$rows" ]; then
    echo "There is no table $rows to read." >&2
    exit 2
fi

sh "$root/.ci/set_up.sh" --runtime "$environment" >&2

scratch=$(mktemp -d)
service=
stop() {
    status=$?
    trap - EXIT
    if [ -n "$service" ]; then
        kill "$service" 2>/dev/null || true
        wait "$service" 2>/dev/null || true
    fi
    rm -rf "$scratch"
    exit "$status"
}
trap stop EXIT
trap 'exit 130' INT
trap 'exit 143' TERM

# Port 0 is any free port; the service prints which one it got.
(cd "$root" && VELAMEN_PORT=0 exec "$environment/bin/python" -m service) \
    >"$scratch/printed" 2>"$scratch/log" &
service=$!

give_up() {
    echo "$1 Its last words:" >&2
    tail -n 20 "$scratch/log" >&2
    exit 1
}

address=
while [ -z "$address" ]; do
    kill -0 "$service" 2>/dev/null || give_up 'The service did not start.'
    sleep 1
    address=$(sed -n 's/.*"\(http:[^"]*\)".*/\1/p' "$scratch/printed" | head -n 1)
done

"$environment/bin/python" "$root/examples/mixing_sheet.py" "$address" "$rows" ||
    give_up 'No sheet from the service.'
