#!/bin/sh
# Starts a throw-away PostgreSQL of the machine's Debian package in a scratch
# folder, prints its address on one line and runs until standard input closes.
# It listens on a socket in that folder only. Durability is off: the data lives
# as long as the tests. initdb refuses root, so root runs it as user postgres.
set -eu

bin=${POSTGRES_BIN:-$(ls -d /usr/lib/postgresql/*/bin 2>/dev/null | sort -V | tail -n 1)}
if [ ! -x "${bin:-/none}/initdb" ]; then
	echo "PostgreSQL is not installed; on Debian: apt-get install postgresql" >&2
	exit 69
fi

dir=$(mktemp -d "${TMPDIR:-/tmp}/storeyrod-pg.XXXXXX")
as=
if [ "$(id -u)" = 0 ]; then
	chown postgres: "$dir"
	as="setpriv --reuid=postgres --regid=postgres --clear-groups"
fi

stop() {
	trap - EXIT
	$as "$bin/pg_ctl" -D "$dir/data" -m immediate -w stop >/dev/null 2>&1 || true
	rm -rf "$dir"
}
trap stop EXIT
trap 'exit 1' INT TERM HUP

cd "$dir"
$as "$bin/initdb" -D "$dir/data" -U postgres -A trust -E UTF8 --locale=C --no-sync >"$dir/initdb.log" 2>&1 ||
	{ cat "$dir/initdb.log" >&2; exit 1; }
$as "$bin/pg_ctl" -D "$dir/data" -l "$dir/server.log" -w -o "-k $dir -c listen_addresses='' -c fsync=off \
	-c synchronous_commit=off -c full_page_writes=off -c max_connections=300" start >/dev/null 2>&1 ||
	{ cat "$dir/server.log" >&2; exit 1; }

echo "postgres://postgres@/postgres?host=$dir"
cat >/dev/null
