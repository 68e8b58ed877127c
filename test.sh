#!/usr/bin/env bash
# Every check of the project, the same here and in continuous integration: format, lints,
# documentation, tests. Needs the Rust tool chain and nothing else.
set -euo pipefail
cd "$(dirname "$0")"
cargo fmt --all --check
cargo clippy --workspace --all-targets -- -D warnings
RUSTDOCFLAGS="-D warnings" cargo doc --workspace --no-deps
cargo test --workspace
