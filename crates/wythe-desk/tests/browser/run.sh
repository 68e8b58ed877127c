#!/usr/bin/env bash
# The desk in a real browser: installs what is missing with the distribution's package manager,
# checks the types of the scripts, then does the whole job. Screenshots go to target/desk-shots.
set -euo pipefail
here="$(cd "$(dirname "$0")" && pwd)"
root="$(cd "$here/../../../.." && pwd)"

. "$here/install.sh"

command -v node >/dev/null && command -v npm >/dev/null || install nodejs npm
CHROMIUM="${CHROMIUM:-$(find_browser)}"
[ -n "$CHROMIUM" ] || { install chromium; CHROMIUM="$(find_browser)"; }

cargo build --manifest-path "$root/Cargo.toml" -p wythe
target="${CARGO_TARGET_DIR:-$root/target}"
cd "$here"
npm ci --no-audit --no-fund --silent
npx tsc -p .
export CHROMIUM WYTHE="${WYTHE:-$target/debug/wythe}" SHOTS="${SHOTS:-$target/desk-shots}"
if [ -z "${DEMO:-}" ]; then
  scratch="$(mktemp -d)"
  trap 'rm -rf "$scratch"' EXIT
  "$WYTHE" demo "$scratch/ropewalk" >/dev/null
  export DEMO="$scratch/ropewalk"
fi
node --test --test-concurrency=1 ./*.test.mjs
