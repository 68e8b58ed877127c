#!/usr/bin/env bash
# Every check of the project, the same here and in continuous integration: format, lints,
# documentation, tests, and the desk in a real browser. The Rust part needs the Rust tool chain and
# nothing else; node and Chromium, which only the browser tests need, are installed where missing.
set -euo pipefail
cd "$(dirname "$0")"
cargo fmt --all --check
cargo clippy --workspace --all-targets -- -D warnings
RUSTDOCFLAGS="-D warnings" cargo doc --workspace --no-deps
cargo test --workspace
crates/wythe-desk/tests/browser/run.sh
