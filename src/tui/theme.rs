//! Floor 6: roles to looks. The only place of the screens that knows a colour.
//!
//! The terminal's own palette, foreground and background; no blue, which is
//! hard to read on many; every look only repeats what the words already say.

use ratatui::style::{Color, Modifier, Style};

use crate::role::Role;

/// How roles look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Theme {
    /// Whether colours may be used; weight, underline and reverse always may.
    pub colour: bool,
}

impl Theme {
    #[must_use]
    pub fn style(self, role: Role) -> Style {
        let (colour, weight) = match role {
            Role::Plain | Role::Value | Role::Say => (None, Modifier::empty()),
            Role::Code | Role::Heading | Role::Key => (None, Modifier::BOLD),
            Role::Label | Role::Muted => (None, Modifier::DIM),
            Role::Match => (None, Modifier::UNDERLINED),
            Role::Stop | Role::Fails => (Some(Color::Red), Modifier::BOLD),
            Role::Look | Role::Tight => (Some(Color::Magenta), Modifier::BOLD),
            Role::Unknown => (Some(Color::Magenta), Modifier::empty()),
            Role::Within => (Some(Color::Green), Modifier::empty()),
        };
        let style = Style::new().add_modifier(weight);
        match (colour, self.colour) {
            (Some(colour), true) => style.fg(colour),
            (Some(_), false) => style.add_modifier(Self::instead(role)),
            (None, _) => style,
        }
    }

    /// What stands in for a colour where there is none.
    const fn instead(role: Role) -> Modifier {
        match role {
            Role::Stop | Role::Fails => Modifier::REVERSED,
            Role::Look | Role::Tight | Role::Unknown => Modifier::UNDERLINED,
            _ => Modifier::empty(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROLES: [Role; 15] = [
        Role::Plain,
        Role::Code,
        Role::Value,
        Role::Label,
        Role::Heading,
        Role::Muted,
        Role::Key,
        Role::Say,
        Role::Stop,
        Role::Look,
        Role::Within,
        Role::Tight,
        Role::Fails,
        Role::Unknown,
        Role::Match,
    ];

    #[test]
    fn without_colour_no_colour_is_used() {
        for role in ROLES {
            let style = Theme { colour: false }.style(role);
            assert_eq!((style.fg, style.bg), (None, None), "{role:?}");
        }
    }

    #[test]
    fn no_background_is_ever_set_and_no_text_is_blue() {
        for role in ROLES {
            let style = Theme { colour: true }.style(role);
            assert_eq!(style.bg, None, "{role:?}");
            assert!(!matches!(style.fg, Some(Color::Blue | Color::LightBlue)));
        }
    }

    #[test]
    fn warnings_stand_out_from_text_in_both_themes() {
        for colour in [true, false] {
            let theme = Theme { colour };
            for role in [
                Role::Stop,
                Role::Look,
                Role::Fails,
                Role::Tight,
                Role::Unknown,
            ] {
                assert_ne!(theme.style(role), theme.style(Role::Plain), "{role:?}");
            }
            assert_ne!(theme.style(Role::Stop), theme.style(Role::Look));
        }
    }
}
