#!/usr/bin/env bash
# Every check of the project, the same here and in continuous integration: format, lints,
# documentation, tests, and the desk in a real browser. The Rust part needs the Rust tool chain and
# nothing else; what opens the results from outside (a browser, poppler, python) and drives the desk (node) is
# installed where missing.
set -euo pipefail
cd "$(dirname "$0")"
. crates/wythe-desk/tests/browser/install.sh
[ -n "$(find_browser)" ] || install chromium
command -v pdftotext >/dev/null || install poppler-utils
outside="${CARGO_TARGET_DIR:-target}/outside"
if ! "$outside/bin/python" -c "import pyarrow, jsonschema" 2>/dev/null; then
  # Some distributions part python from what makes an environment of it.
  python3 -m venv "$outside" 2>/dev/null || { install python3 python3-venv; python3 -m venv "$outside"; }
  "$outside/bin/pip" install --quiet pyarrow jsonschema
fi
WYTHE_PYTHON="$(cd "$outside" && pwd)/bin/python"
export WYTHE_PYTHON WYTHE_OUTSIDE=1
cargo fmt --all --check
cargo clippy --workspace --all-targets -- -D warnings
RUSTDOCFLAGS="-D warnings" cargo doc --workspace --no-deps
cargo test --workspace
crates/wythe-desk/tests/browser/run.sh
