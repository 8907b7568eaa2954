#!/bin/sh
# Kills a server twenty times while photos are sent to it, over each database,
# then fuzzes every reader of outside bytes for SOAK seconds each (default 600).
# No process that reads what is made up gets more than 512 MB of memory: one that
# wants more ends, and what it was given is reported as a finding. The process
# that makes it up keeps all it has learnt and is not limited. New findings are kept in the
# packages' testdata/fuzz, what else was learnt in Go's build cache.
set -eu
seconds="${SOAK:-600}"
echo "== a server killed ${KILLS:-20} times"
KILLS="${KILLS:-20}" go test -count=1 -run '^TestAKilledServer' -v -timeout 60m ./cli

bin="$(mktemp -d)"
trap 'rm -rf "$bin"' EXIT
learnt="$(go env GOCACHE)/fuzz"
# Workers are started by the name their parent was given, so this stands in for it.
cat >"$bin/fuzz" <<'EOF'
#!/bin/bash
for arg; do
    if [ "$arg" = -test.fuzzworker ]; then
        ulimit -d 524288
        export GOMEMLIMIT=400MiB
    fi
done
exec -a "$0" "$0.test" "$@"
EOF
chmod +x "$bin/fuzz"
found=0
for package in $(go list ./...); do
    folder="$(go list -f '{{.Dir}}' "$package")"
    grep -qs '^func Fuzz' "$folder"/*_test.go || continue
    # Built beforehand: the compiler needs more memory than the limit allows.
    go test -c -fuzz=. -o "$bin/fuzz.test" "$package"
    for target in $(cd "$folder" && "$bin/fuzz.test" -test.list '^Fuzz'); do
        echo "== $package $target"
        (
            cd "$folder"
            "$bin/fuzz" -test.run '^$' -test.fuzz "^$target\$" -test.fuzztime "${seconds}s" \
                -test.fuzzminimizetime 200x -test.fuzzcachedir "$learnt/$package"
        ) || found=1
    done
done
exit "$found"
