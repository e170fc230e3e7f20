//! `cargo run --example screenshots` draws the pictures in `screenshots/` anew.
#![allow(clippy::unwrap_used)]

#[allow(dead_code, reason = "the tests use more of it")]
#[path = "../screens/rig.rs"]
mod rig;
mod shots;

fn main() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("screenshots");
    std::fs::create_dir_all(&folder).unwrap();
    for (name, svg) in shots::shots() {
        let file = folder.join(name).with_extension("svg");
        std::fs::write(&file, svg).unwrap();
        println!("{}", file.display());
    }
}
