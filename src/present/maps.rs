//! The maps of a register as text.

use super::Line;
use super::block::row;
use crate::role::Role;
use crate::work::maps::MapsReport;

/// The maps; with `whole`, as YAML that can be given back.
#[must_use]
pub fn maps_lines(report: &MapsReport, width: usize, whole: bool) -> Vec<Line> {
    if whole {
        let text = report.maps.iter().flat_map(|m| m.text.lines());
        return text.map(|l| Line::of(Role::Plain, l)).collect();
    }
    if report.maps.is_empty() {
        let text = "The register keeps no map yet; --save-map NAME keeps one at an import.";
        return Line::of(Role::Plain, text).folded(width, 0);
    }
    let mut out = Vec::new();
    for map in &report.maps {
        let kinds: Vec<&str> = map.kinds.iter().map(|k| k.word()).collect();
        let mut line = Line::of(Role::Code, format!(" {}", map.map))
            .with(Role::Plain, format!("  {}", kinds.join(", ")));
        if let Some(about) = &map.about {
            line.push(Role::Plain, format!(": {about}"));
        }
        out.extend(line.folded(width, 3));
        let used = map.last_used.map_or("not used yet".to_string(), |m| {
            format!("last used {}", m.spoken())
        });
        out.extend(row(Role::Muted, "", &used, width));
        if let Some(fault) = &map.fault {
            out.extend(row(Role::Look, "LOOK", fault, width));
        }
    }
    out
}
