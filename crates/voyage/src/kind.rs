//! The kinds of event. A kind is never reused and never renamed; each has one data shape per version.

use crate::data::*;

macro_rules! kinds {
    ($($variant:ident $name:literal $shape:ident,)*) => {
        /// What kind of thing happened.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Kind {
            $(#[doc = concat!("`", $name, "`")] $variant,)*
        }

        impl Kind {
            /// Every kind there is.
            pub const ALL: &'static [Kind] = &[$(Kind::$variant,)*];

            /// The kind's name on the wire.
            #[must_use]
            pub fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            /// The kind of that name.
            #[must_use]
            pub fn from_name(name: &str) -> Option<Self> {
                match name { $($name => Some(Self::$variant),)* _ => None }
            }
        }

        /// What an event says, by kind.
        #[derive(Debug, Clone, PartialEq)]
        pub enum Data {
            $(#[doc = concat!("`", $name, "`")] $variant(Box<$shape>),)*
        }

        impl Data {
            /// The data of an event of `kind`, version 1, from its JSON text.
            ///
            /// # Errors
            /// When a field has the wrong JSON type.
            pub fn decode(kind: Kind, json: &str) -> Result<Self, serde_json::Error> {
                let json = if json == "null" { "{}" } else { json };
                if !json.trim_start().starts_with('{') {
                    // A list would else be read field by field.
                    return Err(serde::de::Error::custom("data is not an object"));
                }
                Ok(match kind { $(Kind::$variant => Self::$variant(Box::new(serde_json::from_str(json)?)),)* })
            }
        }
    };
}

kinds! {
    VoyageOpened "voyage_opened" VoyageOpened,
    VoyageClosed "voyage_closed" VoyageClosed,
    UtcOffsetChanged "utc_offset_changed" UtcOffsetChanged,
    DayWithoutSet "day_without_set" DayWithoutSet,
    PersonAdded "person_added" PersonSeen,
    PersonLeft "person_left" PersonSeen,
    WorkStarted "work_started" Work,
    WorkEnded "work_ended" Work,
    DeviceAdded "device_added" DeviceSeen,
    DeviceRevoked "device_revoked" DeviceSeen,
    ClockOffset "clock_offset" ClockOffset,
    ShipState "ship_state" ShipState,
    Weather "weather" Weather,
    WaterProfile "water_profile" WaterProfile,
    Observer "observer" Observer,
    TableLoaded "table_loaded" TableLoaded,
    Note "note" Note,
    PlaceNoted "place_noted" Note,
    ManOverboard "man_overboard" ManOverboard,
    ManOverboardFalse "man_overboard_false" Target,
    DangerCalled "danger_called" DangerCalled,
    DangerOver "danger_over" Target,
    GearDescribed "gear_described" GearDescribed,
    TagsListed "tags_listed" TagsListed,
    BinDescribed "bin_described" BinDescribed,
    RadioBuoyRegistered "radio_buoy_registered" RadioBuoyRegistered,
    StoresCounted "stores_counted" StoresCounted,
    BaitTakenOut "bait_taken_out" BaitMoved,
    BaitPutBack "bait_put_back" BaitMoved,
    BaitSpoiled "bait_spoiled" BaitMoved,
    HoldDescribed "hold_described" HoldDescribed,
    SetPlanned "set_planned" SetPlanned,
    SettingStarted "setting_started" SettingStarted,
    SettingEnded "setting_ended" SettingEnded,
    BasketCounted "basket_counted" BasketCounted,
    Beat "beat" Beat,
    StopStarted "stop_started" Stop,
    StopEnded "stop_ended" Stop,
    BeatSilent "beat_silent" BeatSilent,
    ShooterSpeed "shooter_speed" ShooterSpeed,
    LineCounter "line_counter" LineCounter,
    CourseLeg "course_leg" CourseLeg,
    GearChanged "gear_changed" GearChanged,
    FloatClipped "float_clipped" FloatTap,
    RadioBuoyLaunched "radio_buoy_launched" RadioBuoyTap,
    BinStarted "bin_started" BinTap,
    BinEnded "bin_ended" BinTap,
    HookMissed "hook_missed" HookMissed,
    SettingParted "setting_parted" SettingParted,
    EndsJoined "ends_joined" EndsJoined,
    BirdLine "bird_line" BirdLine,
    LightStick "light_stick" LightStick,
    HookBait "hook_bait" HookBait,
    BuoyFixed "buoy_fixed" BuoyFixed,
    HaulStarted "haul_started" HaulStarted,
    HaulEnded "haul_ended" HaulEnded,
    HaulerStopped "hauler_stopped" Nothing,
    HaulerStarted "hauler_started" Nothing,
    FloatHauled "float_hauled" FloatTap,
    FloatMissing "float_missing" FloatMissing,
    HooksCounted "hooks_counted" HooksCounted,
    RadioBuoyRecovered "radio_buoy_recovered" RadioBuoyTap,
    Tangle "tangle" Tangle,
    BranchLineLost "branch_line_lost" BranchLineLost,
    GearLost "gear_lost" GearStretch,
    GearRecovered "gear_recovered" GearStretch,
    BundleStowed "bundle_stowed" Bundle,
    BundleUsed "bundle_used" Bundle,
    Landed "landed" Landed,
    LostAtRail "lost_at_rail" Landed,
    Bitten "bitten" Landed,
    Released "released" Landed,
    FishMeasured "fish_measured" FishMeasured,
    CardTaken "card_taken" CardTaken,
    CardsExchanged "cards_exchanged" Pair,
    FishStep "fish_step" FishStep,
    Stowed "stowed" Stow,
    Moved "moved" Stow,
    Unloaded "unloaded" Stow,
    SameFish "same_fish" Pair,
    ProbeRead "probe_read" ProbeRead,
    Amended "amended" Amended,
    Voided "voided" Voided,
}
