//! The pictures in `screenshots/` are those of the present program.

#[path = "tools/shots.rs"]
mod shots;

use crate::screens::rig;

#[test]
fn the_pictures_are_current() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("screenshots");
    let mut names = Vec::new();
    for (name, svg) in shots::shots() {
        let file = format!("{name}.svg");
        let kept = std::fs::read_to_string(folder.join(&file)).unwrap_or_default();
        assert!(
            kept == svg,
            "{file} is stale: run `cargo run --example screenshots`"
        );
        names.push(file);
    }
    for entry in std::fs::read_dir(&folder).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let known = names.contains(&name) || !name.ends_with(".svg");
        assert!(known, "{name} is a picture that nothing draws");
    }
}
