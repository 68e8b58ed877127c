#!/usr/bin/env bash
# The desk in a real browser: installs what is missing with the distribution's package manager,
# checks the types of the scripts, then does the whole job. Screenshots go to target/desk-shots.
set -euo pipefail
here="$(cd "$(dirname "$0")" && pwd)"
root="$(cd "$here/../../../.." && pwd)"

# install COMMAND PACKAGE...: by whichever package manager there is.
install() {
  local sudo=""
  [ "$(id -u)" = 0 ] || sudo="sudo"
  if command -v apt-get >/dev/null; then
    $sudo apt-get update -qq && $sudo apt-get install -y -qq "$@"
  elif command -v dnf >/dev/null; then
    $sudo dnf install -y -q "$@"
  elif command -v pacman >/dev/null; then
    $sudo pacman -S --noconfirm --needed "$@"
  elif command -v apk >/dev/null; then
    $sudo apk add -q "$@"
  elif command -v brew >/dev/null; then
    brew install "$@"
  else
    echo "install $* by hand; no known package manager was found" >&2
    exit 1
  fi
}

find_browser() {
  for name in chromium chromium-browser google-chrome google-chrome-stable microsoft-edge; do
    if command -v "$name" >/dev/null; then command -v "$name"; return; fi
  done
}

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
