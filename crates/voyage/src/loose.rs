//! Values as people and machines really send them: the right JSON type is enough to be kept.
//!
//! A text that is no time, or a number that is no whole number, is stored and becomes a doubt; it is
//! never a reason to refuse an event.

use quantity::UtcInstant;
use serde::{Deserialize, Deserializer, Serialize};

/// A time inside an event's data, by the sending device's clock.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(untagged)]
pub enum LooseTime {
    /// An RFC 3339 time.
    At(UtcInstant),
    /// A text that is no time.
    Unreadable(String),
}

impl LooseTime {
    /// The time, when it is one.
    #[must_use]
    pub fn at(&self) -> Option<UtcInstant> {
        match self {
            Self::At(at) => Some(*at),
            Self::Unreadable(_) => None,
        }
    }
}

impl<'de> Deserialize<'de> for LooseTime {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Ok(text.parse().map_or(Self::Unreadable(text), Self::At))
    }
}

/// A number that should be whole.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Whole {
    /// It is.
    Is(i64),
    /// It is not.
    Not(f64),
}

impl Whole {
    /// The whole number, when it is one.
    #[must_use]
    pub fn get(self) -> Option<i64> {
        match self {
            Self::Is(value) => Some(value),
            Self::Not(_) => None,
        }
    }
}

impl<'de> Deserialize<'de> for Whole {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Number;
        impl serde::de::Visitor<'_> for Number {
            type Value = Whole;
            fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str("a number")
            }
            fn visit_i64<E>(self, value: i64) -> Result<Whole, E> {
                Ok(Whole::Is(value))
            }
            fn visit_u64<E>(self, value: u64) -> Result<Whole, E> {
                Ok(i64::try_from(value).map_or(Whole::Not(f64::INFINITY), Whole::Is))
            }
            fn visit_f64<E>(self, value: f64) -> Result<Whole, E> {
                #[expect(clippy::cast_possible_truncation, reason = "checked to be whole and small")]
                if value.fract().abs() < f64::EPSILON && value.abs() < 9.0e15 {
                    Ok(Whole::Is(value as i64))
                } else {
                    Ok(Whole::Not(value))
                }
            }
        }
        deserializer.deserialize_any(Number)
    }
}

/// One id or several.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum OneOrMany {
    /// One.
    One(String),
    /// Several.
    Many(Vec<String>),
}

impl OneOrMany {
    /// All of them.
    #[must_use]
    pub fn all(&self) -> &[String] {
        match self {
            Self::One(one) => std::slice::from_ref(one),
            Self::Many(many) => many,
        }
    }
}

/// A whole number and present.
#[must_use]
pub fn whole(value: Option<Whole>) -> Option<i64> {
    value.and_then(Whole::get)
}

/// A readable time and present.
#[must_use]
pub fn time(value: Option<&LooseTime>) -> Option<UtcInstant> {
    value.and_then(LooseTime::at)
}
