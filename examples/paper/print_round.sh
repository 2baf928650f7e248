#!/bin/sh
# Save the mixing sheet of a round as a page to print.
#
#   sh print_round.sh round.csv sheet.html [most cans]
#
# VELAMEN_ADDRESS   where the service is; default http://127.0.0.1:8000
#
# With a number of cans the rows share at most so many; without one each row has its own.
set -eu

table=${1:?say which table} page=${2:?say where the page goes}
address=${VELAMEN_ADDRESS:-http://127.0.0.1:8000}
asked=${3:+?mixes.max_count=$3}

part=$page.part
trap 'rm -f "$part"' EXIT
status=$(curl --silent --show-error --header 'Content-Type: text/csv' --data-binary "@$table" \
    --output "$part" --write-out '%{http_code}' "$address/v1/doses/batch.html$asked")
if [ "$status" != 200 ]; then
    echo "No sheet ($status):" >&2
    cat "$part" >&2
    exit 1
fi
mv "$part" "$page"
echo "Open $page in a browser and print it on A4."
