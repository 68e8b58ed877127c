//! The wait for one build-up after a layer was changed.
fn main() {
    divan::main();
}
