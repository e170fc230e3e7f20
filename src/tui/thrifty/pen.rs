//! How a cell looks, and the shortest SGR sequence from one look to another.
//!
//! The sequences are written here and not by the terminal library, which in the version in use
//! turns every colour into a reset of all attributes when `NO_COLOR` is set and so would erase
//! the reversed selection. SGR codes: ECMA-48; 90 to 107 and 38/48 with a mode are xterm's.

use ratatui::buffer::Cell;
use ratatui::style::{Color, Modifier};

/// A colour as the terminal knows it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Tint {
    /// The terminal's own default.
    #[default]
    Plain,
    /// The terminal's palette.
    Palette(u8),
    /// Red, green, blue.
    Rgb(u8, u8, u8),
}

/// Terminals differ on bold and dim together, so a cell is one or the other; bold wins.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Weight {
    #[default]
    Normal,
    Bold,
    Dim,
}

/// The look of a cell.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Pen {
    pub(super) fg: Tint,
    pub(super) bg: Tint,
    pub(super) weight: Weight,
    pub(super) italic: bool,
    pub(super) underline: bool,
    pub(super) reverse: bool,
}

impl Pen {
    /// The look that ratatui asks for; without `colour` only the attributes remain.
    pub(super) fn of(cell: &Cell, colour: bool) -> Self {
        let tint = |color| if colour { tint(color) } else { Tint::Plain };
        let has = |modifier| cell.modifier.contains(modifier);
        Self {
            fg: tint(cell.fg),
            bg: tint(cell.bg),
            weight: match (has(Modifier::BOLD), has(Modifier::DIM)) {
                (true, _) => Weight::Bold,
                (false, true) => Weight::Dim,
                (false, false) => Weight::Normal,
            },
            italic: has(Modifier::ITALIC),
            underline: has(Modifier::UNDERLINED),
            reverse: has(Modifier::REVERSED),
        }
    }

    /// What of this look can be seen on a blank: on an unmarked one only the background.
    pub(super) fn on_blank(self) -> Self {
        if self.reverse || self.underline {
            return self;
        }
        Self {
            bg: self.bg,
            ..Self::default()
        }
    }

    /// True when a blank written or erased with this pen is the terminal's plain background.
    pub(super) fn leaves_plain_blank(self) -> bool {
        self.on_blank() == Self::default()
    }

    /// The shortest sequence from this pen to one that shows a blank as `wanted`, and that pen.
    pub(super) fn to_blank(self, wanted: Self) -> (Vec<u8>, Self) {
        if self.on_blank() == wanted {
            return (Vec::new(), self);
        }
        let straight = self.to(wanted);
        if wanted.reverse || wanted.underline {
            return (straight, wanted);
        }
        let kept = Self {
            bg: wanted.bg,
            underline: false,
            reverse: false,
            ..self
        };
        let shorter = self.to(kept);
        if shorter.len() < straight.len() {
            (shorter, kept)
        } else {
            (straight, wanted)
        }
    }

    /// The shortest sequence from this pen to `wanted`.
    pub(super) fn to(self, wanted: Self) -> Vec<u8> {
        if self == wanted {
            return Vec::new();
        }
        let changes = self.changes_to(wanted);
        let afresh = Self::default().changes_to(wanted);
        // An empty first parameter is 0, reset: `CSI ;7m` is reset, then reverse.
        let afresh = if afresh.is_empty() {
            afresh
        } else {
            format!(";{afresh}")
        };
        let codes = if changes.len() < afresh.len() {
            changes
        } else {
            afresh
        };
        format!("\x1b[{codes}m").into_bytes()
    }

    fn changes_to(self, wanted: Self) -> String {
        let mut codes: Vec<String> = Vec::new();
        let mut code = |text: &str| codes.push(text.to_owned());
        if self.weight != wanted.weight {
            if self.weight != Weight::Normal {
                code("22");
            }
            match wanted.weight {
                Weight::Normal => {}
                Weight::Bold => code("1"),
                Weight::Dim => code("2"),
            }
        }
        for (before, after, on, off) in [
            (self.italic, wanted.italic, "3", "23"),
            (self.underline, wanted.underline, "4", "24"),
            (self.reverse, wanted.reverse, "7", "27"),
        ] {
            if before != after {
                code(if after { on } else { off });
            }
        }
        if self.fg != wanted.fg {
            code(&tint_code(wanted.fg, 30));
        }
        if self.bg != wanted.bg {
            code(&tint_code(wanted.bg, 40));
        }
        codes.join(";")
    }
}

/// `base` is 30 for the foreground, 40 for the background.
fn tint_code(tint: Tint, base: u8) -> String {
    match tint {
        Tint::Plain => (base + 9).to_string(),
        Tint::Palette(index @ 0..8) => (base + index).to_string(),
        Tint::Palette(index @ 8..16) => (base + 52 + index).to_string(),
        Tint::Palette(index) => format!("{};5;{index}", base + 8),
        Tint::Rgb(r, g, b) => format!("{};2;{r};{g};{b}", base + 8),
    }
}

fn tint(color: Color) -> Tint {
    Tint::Palette(match color {
        Color::Reset => return Tint::Plain,
        Color::Rgb(r, g, b) => return Tint::Rgb(r, g, b),
        Color::Indexed(index) => index,
        Color::Black => 0,
        Color::Red => 1,
        Color::Green => 2,
        Color::Yellow => 3,
        Color::Blue => 4,
        Color::Magenta => 5,
        Color::Cyan => 6,
        Color::Gray => 7,
        Color::DarkGray => 8,
        Color::LightRed => 9,
        Color::LightGreen => 10,
        Color::LightYellow => 11,
        Color::LightBlue => 12,
        Color::LightMagenta => 13,
        Color::LightCyan => 14,
        Color::White => 15,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(bytes: &[u8]) -> String {
        String::from_utf8_lossy(bytes).replace('\x1b', "^")
    }

    #[test]
    fn the_shorter_way_is_taken() {
        let plain = Pen::default();
        let reversed = Pen {
            reverse: true,
            ..plain
        };
        let bold_red = Pen {
            weight: Weight::Bold,
            fg: Tint::Palette(1),
            ..plain
        };
        assert_eq!(text(&plain.to(reversed)), "^[7m");
        assert_eq!(text(&reversed.to(plain)), "^[m");
        assert_eq!(text(&bold_red.to(reversed)), "^[;7m");
        assert_eq!(text(&plain.to(bold_red)), "^[1;31m");
        let red = Pen {
            weight: Weight::Normal,
            ..bold_red
        };
        assert_eq!(text(&bold_red.to(red)), "^[22m");
    }

    #[test]
    fn a_blank_needs_no_change_of_what_it_does_not_show() {
        let bold = Pen {
            weight: Weight::Bold,
            ..Pen::default()
        };
        assert_eq!(bold.to_blank(Pen::default()), (Vec::new(), bold));
        let marked = Pen {
            reverse: true,
            ..bold
        };
        let (bytes, pen) = marked.to_blank(Pen::default());
        assert_eq!((text(&bytes).as_str(), pen), ("^[m", Pen::default()));
    }

    #[test]
    fn bright_and_deep_colours() {
        let fg = |tint| Pen {
            fg: tint,
            ..Pen::default()
        };
        let from_plain = |tint| text(&Pen::default().to(fg(tint)));
        assert_eq!(from_plain(Tint::Palette(9)), "^[91m");
        assert_eq!(from_plain(Tint::Palette(200)), "^[38;5;200m");
        assert_eq!(from_plain(Tint::Rgb(1, 2, 3)), "^[38;2;1;2;3m");
    }
}
