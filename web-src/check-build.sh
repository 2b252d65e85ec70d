#!/bin/sh
# The committed front end is the one that its source makes: build it anew and compare, byte for byte.
set -eu
cd "$(dirname "$0")"
npm ci
npm run build
git diff --exit-code --stat -- ../src/boostwright/web/static
test -z "$(git ls-files --others --exclude-standard -- ../src/boostwright/web/static)"
