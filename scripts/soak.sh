#!/bin/sh
# Fuzzes every reader of outside bytes for SOAK seconds each (default 600),
# under a memory limit. New findings stay in the packages' testdata/fuzz.
set -eu
seconds="${SOAK:-600}"
ulimit -v 12582912
for package in $(go list ./...); do
    for target in $(go test -list '^Fuzz' "$package" | grep '^Fuzz' || true); do
        echo "== $package $target"
        GOMEMLIMIT=512MiB go test -run '^$' -fuzz "^$target\$" -fuzztime "${seconds}s" -fuzzminimizetime 200x "$package"
    done
done
