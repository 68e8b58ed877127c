#!/usr/bin/env bash
# Every check of the project, the same here and in continuous integration: format, lints,
# documentation, tests, and the desk in a real browser. The Rust part needs the Rust tool chain and
# nothing else; what opens the results from outside (a browser, poppler) and drives the desk (node) is
# installed where missing.
set -euo pipefail
cd "$(dirname "$0")"
. crates/wythe-desk/tests/browser/install.sh
[ -n "$(find_browser)" ] || install chromium
command -v pdftotext >/dev/null || install poppler-utils
export WYTHE_OUTSIDE=1
cargo fmt --all --check
cargo clippy --workspace --all-targets -- -D warnings
RUSTDOCFLAGS="-D warnings" cargo doc --workspace --no-deps
cargo test --workspace
crates/wythe-desk/tests/browser/run.sh
