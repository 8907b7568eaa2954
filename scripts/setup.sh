#!/bin/sh
# Installs what the tests need beside Go: a PostgreSQL server, Chromium, and two
# independent Exif readers, a JPEG decoder, an image library and a HEIC coder to compare with. On Debian as root it installs them;
# elsewhere it says what is missing, and the tests that need it skip themselves
# (under CI=true they fail instead).
set -eu
missing=""
ls /usr/lib/postgresql/*/bin/postgres >/dev/null 2>&1 || missing="$missing postgresql"
command -v chromium >/dev/null 2>&1 || missing="$missing chromium"
command -v exiftool >/dev/null 2>&1 || missing="$missing libimage-exiftool-perl"
command -v exiv2 >/dev/null 2>&1 || missing="$missing exiv2"
command -v djpeg >/dev/null 2>&1 || missing="$missing libjpeg-turbo-progs"
command -v vipsthumbnail >/dev/null 2>&1 || missing="$missing libvips-tools"
if [ "${1:-}" = bench ]; then # the peer that copies are measured beside is compiled
    pkg-config --exists vips 2>/dev/null || missing="$missing pkg-config gcc libc6-dev libvips-dev"
fi
command -v heif-enc >/dev/null 2>&1 || missing="$missing libheif-examples"
command -v cwebp >/dev/null 2>&1 || missing="$missing webp"
command -v setpriv >/dev/null 2>&1 || missing="$missing util-linux"
[ -n "$missing" ] || exit 0
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    export DEBIAN_FRONTEND=noninteractive
    apt-get update -q >/dev/null
    # A package's own server is not wanted: each test run starts one in a scratch folder.
    mkdir -p /etc/postgresql-common
    [ -e /etc/postgresql-common/createcluster.conf ] ||
        echo "create_main_cluster = false" >/etc/postgresql-common/createcluster.conf
    # shellcheck disable=SC2086 # a list of package names
    apt-get install -q -y --no-install-recommends $missing >/dev/null
else
    echo "not installed, tests that need them will be skipped:$missing" >&2
fi
