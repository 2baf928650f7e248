#!/bin/sh
# The gate: set up, run every check, fail if any of them fails.
#
#   sh tests/run.sh [--clients]
#
# --clients   also drive the service with real client programs (pytest -m client), which
#             .ci/set_up_clients.sh installs into .clients first; one that is missing fails
#
# Every check runs, whatever the earlier ones said. The last line counts them all together,
# each check outside pytest as one: "N passed, N failed". A skipped test counts as failed.
set -eu

clients=no
for argument in "$@"; do
    case $argument in
        --clients) clients=yes ;;
        *)
            echo "run.sh: unknown option $argument; known: --clients" >&2
            exit 2
            ;;
    esac
done

root=$(CDPATH='' cd -- "$(dirname -- "$0")/.." && pwd)
cd "$root"

# Two cores at most, whatever the machine has.
export RAYON_NUM_THREADS=2 NUMBA_NUM_THREADS=2 OMP_NUM_THREADS=2 OPENBLAS_NUM_THREADS=2

scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
trap 'exit 130' INT TERM

passed=0
failed=0
failures=

report() {
    if [ "$2" -eq 0 ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        failures="$failures
  $1"
    fi
}

check() {
    printf '\n=== %s\n' "$1"
    name=$1
    shift
    status=0
    "$@" || status=$?
    report "$name" "$status"
}

# The command writes the document that this code serves; the committed one must be the same.
openapi_is_committed() {
    before=$scratch/openapi.json
    cp openapi/openapi.json "$before" || return 1
    python -m service openapi || return 1
    if ! cmp -s "$before" openapi/openapi.json; then
        diff -u "$before" openapi/openapi.json | head -n 60
        echo 'openapi/openapi.json was out of date; it is rewritten now: review and commit it.'
        return 1
    fi
    if git rev-parse --is-inside-work-tree >/dev/null 2>&1; then
        git ls-files --error-unmatch openapi/openapi.json >/dev/null || return 1
        git diff --stat --exit-code -- openapi/openapi.json || return 1
    fi
}

# pytest reports to a file; its counts join those of the other checks.
run_pytest() {
    printf '\n=== %s\n' "$1"
    name=$1
    shift
    status=0
    python -m pytest -q --junit-xml="$scratch/$name.xml" "$@" || status=$?
    # shellcheck disable=SC2016
    counts=$(python -c '
import sys
import xml.etree.ElementTree as tree

try:
    suites = tree.parse(sys.argv[1]).getroot().iter("testsuite")
    total, bad = 0, 0
    for suite in suites:
        total += int(suite.get("tests", 0))
        bad += sum(int(suite.get(kind, 0)) for kind in ("failures", "errors", "skipped"))
except (OSError, tree.ParseError):
    total, bad = 0, 0
print(total - bad, bad)
' "$scratch/$name.xml")
    good=${counts% *}
    bad=${counts#* }
    if [ "$status" -ne 0 ] && [ "$bad" -eq 0 ]; then
        bad=1
    fi
    passed=$((passed + good))
    failed=$((failed + bad))
    if [ "$bad" -ne 0 ]; then
        failures="$failures
  $name: $bad failed, broken or skipped"
    fi
}

printf '=== set-up\n'
sh .ci/set_up.sh
PATH=$root/.venv/bin:$PATH
export PATH

check 'format' ruff format --check .
check 'lint' ruff check .
check 'layers' lint-imports
# Not numpydoc.hooks.validate_docstrings: run as a module it checks nothing and exits 0.
check 'docstrings of the chemistry' numpydoc lint service/chemistry/*.py
check 'types' mypy
check 'container recipe' hadolint --no-color Dockerfile
check 'openapi document' openapi_is_committed
check 'two minutes of resilience' python -m tests.resilience --slice
run_pytest tests --numprocesses=2 --dist=loadfile
if [ "$clients" = yes ]; then
    check 'client programs' sh .ci/set_up_clients.sh
    run_pytest clients -m client
fi

if [ "$failed" -ne 0 ]; then
    printf '\nFailed:%s\n' "$failures"
fi
printf '\n%d passed, %d failed\n' "$passed" "$failed"
[ "$failed" -eq 0 ]
