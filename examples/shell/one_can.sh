#!/bin/sh
# How many grams of a feed go into one can: a bare number, or the reason why not.
#
#   sh examples/shell/one_can.sh LITRES HUMIDITY_PERCENT TEMPERATURE_CELSIUS
#
# The service is expected at VELAMEN_ADDRESS, by default http://127.0.0.1:8000.
set -eu

if [ "$#" -ne 3 ]; then
    echo 'Say: one_can.sh LITRES HUMIDITY_PERCENT TEMPERATURE_CELSIUS' >&2
    exit 2
fi

body=$(mktemp)
trap 'rm -f "$body"' EXIT

# Values are encoded by curl: "5 gal" and "72 °F" may be said as they are.
status=$(curl -sS --max-time 10 --output "$body" --write-out '%{http_code}' --get \
    "${VELAMEN_ADDRESS:-http://127.0.0.1:8000}/v1/doses.txt" \
    --data-urlencode 'field=product_mass_g' \
    --data-urlencode 'product=feed_15_5_15_ca_mg' \
    --data-urlencode 'water=rain' \
    --data-urlencode 'plants.size=large' \
    --data-urlencode "volume_l=$1" \
    --data-urlencode "air.humidity_percent=$2" \
    --data-urlencode "air.temperature_celsius=$3")

if [ "$status" != 200 ]; then
    printf 'No dose (%s): ' "$status" >&2
    # The sentence of the problem document, which is one line.
    sed 's/^.*"status":[0-9]*,"detail":"\(.*\)","instance":.*$/\1/' "$body" >&2
    echo >&2
    exit 1
fi
cat "$body"
echo
