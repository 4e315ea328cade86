//! Messages of several VDM or VDO sentences put together by sequence number and channel.
//!
//! Source: gpsd `AIVDM.adoc`, "AIVDM/AIVDO Sentence Layer". Parts may come in any order. A message whose parts
//! are not complete within [`TIME_OUT_S`] by known time, or else within [`TIME_OUT_SENTENCES`] AIS sentences,
//! is given up.

use super::bits::{Bits, PayloadError};
use super::message::{Ais, decode};
use crate::sentence::fields::Fields;

/// How long a message may stay incomplete, seconds.
pub const TIME_OUT_S: f64 = 3.0;
/// How many AIS sentences later it is given up where no time is known.
pub const TIME_OUT_SENTENCES: u64 = 100;
/// How many messages may be incomplete at once; the oldest goes first.
const MOST_PENDING: usize = 20;

/// What came of one sentence.
#[derive(Debug, Clone, PartialEq)]
pub enum Outcome {
    /// This sentence completes a message.
    Message(Box<Ais>),
    /// One part of a message that is not complete yet.
    Part {
        /// Number of this part, from 1.
        part: u32,
        /// How many there are.
        of: u32,
    },
    /// The sentence cannot be used.
    Unusable(AisProblem),
}

/// Why an AIS sentence with a good checksum gives no message.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum AisProblem {
    /// Its part numbers are missing or impossible.
    #[error("AIS sentence does not say which part of how many it is")]
    BadNumbers,
    /// A part of several without a sequence number.
    #[error("part of an AIS message without a sequence number")]
    NoSequence,
    /// Its payload cannot be read.
    #[error(transparent)]
    Payload(PayloadError),
    /// Too short for a message type.
    #[error("AIS message is too short to have a type")]
    TooShort,
}

#[derive(Debug)]
struct Pending {
    own: bool,
    sequence: u32,
    channel: u8,
    parts: Vec<Option<(Vec<u8>, u32)>>,
    begun_at_s: Option<f64>,
    begun_count: u64,
}

/// Holds incomplete messages.
#[derive(Debug, Default)]
pub struct Assembly {
    pending: Vec<Pending>,
    count: u64,
    given_up: u64,
}

impl Assembly {
    /// Messages given up with a part missing.
    #[must_use]
    pub const fn given_up(&self) -> u64 {
        self.given_up
    }

    /// Takes the fields of one VDM (`own` false) or VDO (`own` true); `now_s` is the time of the line where known.
    pub fn take(&mut self, rest: &[u8], own: bool, now_s: Option<f64>) -> Outcome {
        self.count += 1;
        self.forget_old(now_s);
        match self.try_take(rest, own, now_s) {
            Ok(outcome) => outcome,
            Err(problem) => Outcome::Unusable(problem),
        }
    }

    fn try_take(&mut self, rest: &[u8], own: bool, now_s: Option<f64>) -> Result<Outcome, AisProblem> {
        let mut fields = Fields::new(rest);
        let (of, part) = (fields.whole(0), fields.whole(1));
        let (Some(of @ 1..=9), Some(part)) = (of, part) else { return Err(AisProblem::BadNumbers) };
        if part == 0 || part > of {
            return Err(AisProblem::BadNumbers);
        }
        let (payload, fill_bits) = (fields.raw(4), fields.whole(5).unwrap_or(0));
        if of == 1 {
            return whole_message(std::iter::once((payload, fill_bits)));
        }
        let sequence = fields.whole(2).ok_or(AisProblem::NoSequence)?;
        let channel = fields.raw(3).first().copied().unwrap_or(0);
        let (index, total) = (part as usize - 1, of as usize);
        let same = |p: &Pending| p.own == own && p.sequence == sequence && p.channel == channel;
        let known = self.pending.iter().position(same);
        let at = match known {
            Some(at) if self.pending[at].parts.len() == total && self.pending[at].parts[index].is_none() => at,
            stale => {
                // The same part again, or another number of parts: a new message uses the number.
                if let Some(at) = stale {
                    self.give_up(at);
                }
                if self.pending.len() >= MOST_PENDING {
                    self.give_up(0);
                }
                let (begun_at_s, begun_count) = (now_s, self.count);
                self.pending.push(Pending {
                    own,
                    sequence,
                    channel,
                    parts: vec![None; total],
                    begun_at_s,
                    begun_count,
                });
                self.pending.len() - 1
            }
        };
        self.pending[at].parts[index] = Some((payload.to_vec(), fill_bits));
        if self.pending[at].parts.iter().any(Option::is_none) {
            return Ok(Outcome::Part { part, of });
        }
        let whole = self.pending.remove(at);
        whole_message(whole.parts.iter().flatten().map(|(payload, fill_bits)| (payload.as_slice(), *fill_bits)))
    }

    fn give_up(&mut self, at: usize) {
        self.pending.remove(at);
        self.given_up += 1;
    }

    fn forget_old(&mut self, now_s: Option<f64>) {
        let (count, before) = (self.count, self.pending.len());
        self.pending.retain(|pending| match (pending.begun_at_s, now_s) {
            (Some(begun_at_s), Some(now_s)) => (now_s - begun_at_s).abs() <= TIME_OUT_S,
            _ => count - pending.begun_count <= TIME_OUT_SENTENCES,
        });
        self.given_up += (before - self.pending.len()) as u64;
    }
}

fn whole_message<'a>(parts: impl Iterator<Item = (&'a [u8], u32)>) -> Result<Outcome, AisProblem> {
    let mut bits = Bits::default();
    for (payload, fill_bits) in parts {
        bits.add(payload, fill_bits).map_err(AisProblem::Payload)?;
    }
    decode(&bits).map(|ais| Outcome::Message(Box::new(ais))).ok_or(AisProblem::TooShort)
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIRST: &[u8] = b"2,1,5,B,E1mg=5J1T4W0h97aRh6ba84<h2d;W:Te=eLvH50```q,0";
    const SECOND: &[u8] = b"2,2,5,B,:D44QDlp0C1DU00,2";

    fn is_message(outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Message(_))
    }

    #[test]
    fn verif_parts_join_in_any_order_and_within_three_seconds() {
        for (one, two) in [(FIRST, SECOND), (SECOND, FIRST)] {
            let mut assembly = Assembly::default();
            assert!(!is_message(&assembly.take(one, false, Some(0.0))));
            assert!(is_message(&assembly.take(two, false, Some(3.0))));
            assert!(!is_message(&assembly.take(one, false, Some(10.0))));
            assert!(!is_message(&assembly.take(two, false, Some(13.1))));
            assert_eq!(assembly.given_up(), 1);
        }
    }

    #[test]
    fn verif_own_and_other_ships_are_not_joined() {
        let mut assembly = Assembly::default();
        assembly.take(FIRST, false, None);
        assert!(!is_message(&assembly.take(SECOND, true, None)));
        assert!(is_message(&assembly.take(SECOND, false, None)));
    }

    #[test]
    fn verif_without_time_the_count_gives_up() {
        let mut assembly = Assembly::default();
        assembly.take(FIRST, false, None);
        for _ in 0..=TIME_OUT_SENTENCES {
            assembly.take(b"1,1,,A,177KQJ5000G?tO`K>RA1wUbN0TKH,0", false, None);
        }
        assert!(!is_message(&assembly.take(SECOND, false, None)));
    }
}
