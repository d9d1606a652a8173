#!/usr/bin/env bash
# Look for the two programs that the tests need from the system, and install them where that is allowed.
set -euo pipefail

missing=()
command -v chromium >/dev/null || command -v chromium-browser >/dev/null || command -v google-chrome >/dev/null || missing+=(chromium)
command -v pdftoppm >/dev/null || missing+=(poppler-utils)
compgen -G '/usr/lib/postgresql/*/bin/initdb' >/dev/null || command -v initdb >/dev/null || missing+=(postgresql)
[ ${#missing[@]} -eq 0 ] && exit 0

if [ "$(id -u)" -eq 0 ] && command -v apt-get >/dev/null; then
    echo "Installing ${missing[*]} for the tests"
    export DEBIAN_FRONTEND=noninteractive
    apt-get -qq update
    apt-get -qq install -y --no-install-recommends "${missing[@]}" >/dev/null
    exit 0
fi
echo "The tests need ${missing[*]} from the system, and may not install it here." >&2
echo "On Debian, as root: apt-get install ${missing[*]}" >&2
echo "Without them, \`make test-stages test-pages\` still runs everything that needs neither." >&2
exit 1
