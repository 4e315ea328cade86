//! Roles: what a device aboard may do, by the place where it stands.
//!
//! A role is given when a device is paired. It limits which kinds of event the device may send, and whether it may
//! change who else is let in. Man overboard is open to every role.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// The place that a device has in the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Everything: plan, settings, pairing, export. At the ship's own computer, or by https with the PIN.
    Wheelhouse,
    /// Where hooks are clipped.
    Stern,
    /// Where the line comes in.
    Rail,
    /// Where fish are worked on.
    Table,
    /// Sees everything that is not secret, sends nothing but man overboard.
    LookOnly,
}

/// Kinds of event that change settings of the whole ship: the wheelhouse only.
pub const SETTINGS: [&str; 6] =
    ["voyage_opened", "voyage_closed", "utc_offset_changed", "device_added", "device_revoked", "table_loaded"];

impl Role {
    /// Whether a device in this role may send an event of that kind.
    #[must_use]
    pub fn may_send(self, kind: &str) -> bool {
        match self {
            Self::Wheelhouse => true,
            Self::Stern | Self::Rail | Self::Table => !SETTINGS.contains(&kind),
            Self::LookOnly => kind == "man_overboard",
        }
    }

    /// Whether the role may be given to a device that comes over plain http from elsewhere: what goes over the
    /// air unencrypted can be overheard, so that it must never open the settings.
    #[must_use]
    pub fn may_come_over_plain_http(self) -> bool {
        self != Self::Wheelhouse
    }

    /// The word on the wire.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Wheelhouse => "wheelhouse",
            Self::Stern => "stern",
            Self::Rail => "rail",
            Self::Table => "table",
            Self::LookOnly => "look_only",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn verif_man_overboard_is_open_to_every_role_and_settings_to_one() {
        for role in [Role::Wheelhouse, Role::Stern, Role::Rail, Role::Table, Role::LookOnly] {
            assert!(role.may_send("man_overboard"), "{role:?}");
            let only = role == Role::Wheelhouse;
            assert!(SETTINGS.iter().all(|kind| role.may_send(kind) == only), "{role:?}");
            assert_eq!(role.may_come_over_plain_http(), !only);
            assert_eq!(serde_json::to_value(role).unwrap(), role.word());
        }
        assert!(!Role::LookOnly.may_send("float_clipped") && Role::Rail.may_send("float_clipped"));
        assert!(SETTINGS.iter().all(|kind| voyage::Kind::from_name(kind).is_some()), "settings name known kinds");
    }
}
