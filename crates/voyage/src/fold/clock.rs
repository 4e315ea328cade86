//! Clocks: from what a device's clock said to the ship's UTC.
//!
//! A measurement says what a device's clock stood at against the ship's UTC. Within one start of a device
//! its counter carries the time on from the nearest measurement; without counters the nearest measurement
//! moves the clock time. Taps never run against their device's own sequence.

use std::collections::BTreeMap;

use quantity::UtcInstant;

use super::Fact;
use super::corrections::Corrected;
use crate::doubt::Doubt;
use crate::envelope::Basis;
use crate::kind::{Data, Kind};
use crate::loose::whole;

#[derive(Clone)]
struct Measurement<'a> {
    event: usize,
    boot: Option<&'a str>,
    counter_ms: Option<i64>,
    offset_us: i64,
    /// Ship's UTC at which it counts, microseconds.
    at_us: i64,
}

/// A point of one start of a device where both its counter and the ship's UTC are known.
struct Peg {
    counter_ms: i64,
    at_us: i64,
}

/// Places every standing event in time.
pub(crate) fn place_in_time<'a>(events: Vec<Corrected<'a>>, doubts: &mut Vec<Doubt>) -> Vec<Fact<'a>> {
    let mut by_device: BTreeMap<&'a str, Vec<usize>> = BTreeMap::new();
    {
        let mut last: Option<(&'a str, Vec<usize>)> = None;
        for (index, event) in events.iter().enumerate() {
            let device = event.envelope.device.as_str();
            match &mut last {
                Some((name, list)) if *name == device => list.push(index),
                _ => {
                    if let Some((name, list)) = last.take() {
                        by_device.entry(name).or_default().extend(list);
                    }
                    last = Some((device, vec![index]));
                }
            }
        }
        if let Some((name, list)) = last {
            by_device.entry(name).or_default().extend(list);
        }
    }
    let measurements = gather_measurements(&events, &by_device);
    let mut times_us: Vec<i64> = vec![0; events.len()];
    for (device, indices) in &mut by_device {
        indices.sort_by_key(|&index| events[index].envelope.device_seq);
        let of_device = measurements.get(*device).map_or(&[][..], Vec::as_slice);
        place_device(&events, indices, of_device, &mut times_us);
        say_what_is_doubtful(device, &events, indices, of_device.is_empty(), doubts);
    }
    let shifts: Vec<i64> =
        events.iter().zip(&times_us).map(|(event, t)| t - event.envelope.happened_at.micros()).collect();
    events
        .into_iter()
        .enumerate()
        .filter(|(_, event)| !event.voided)
        .map(|(index, event)| {
            let t_us = match event.happened_at {
                Some((at, by)) => at.micros().saturating_add(shifts[by]),
                None => times_us[index],
            };
            Fact {
                ship_seq: event.ship_seq,
                envelope: event.envelope,
                t: UtcInstant::from_micros_clamped(t_us),
                shift_us: event.data_by.map_or(shifts[index], |by| shifts[by]),
                set: event.envelope.set.as_deref(),
                haul: event.envelope.haul.as_deref(),
                set_amended: event.set,
                haul_amended: event.haul,
                data: event.data,
            }
        })
        .collect()
}

fn gather_measurements<'a>(
    events: &[Corrected<'a>],
    by_device: &BTreeMap<&'a str, Vec<usize>>,
) -> BTreeMap<String, Vec<Measurement<'a>>> {
    let mut found: BTreeMap<String, Vec<Measurement<'a>>> = BTreeMap::new();
    let mut boots: Vec<Option<String>> = Vec::new();
    let mut raw = Vec::new();
    for (index, event) in events.iter().enumerate() {
        if event.envelope.kind != Kind::ClockOffset || event.voided {
            continue;
        }
        let Data::ClockOffset(data) = event.data.as_ref() else { continue };
        let (Some(of_device), Some(offset_s)) = (&data.of_device, data.offset_s) else { continue };
        if !offset_s.is_finite() || offset_s.abs() > 4.0e9 {
            continue;
        }
        boots.push(data.of_boot.clone());
        raw.push((index, of_device.clone(), micros(offset_s), whole(data.of_monotonic_ms)));
    }
    for ((index, of_device, offset_us, counter_ms), boot) in raw.into_iter().zip(boots) {
        let event = &events[index];
        // The name of a start is looked up among the device's own events, so that it outlives this call.
        let boot_name = boot.as_deref().map(|boot| {
            by_device
                .get(of_device.as_str())
                .and_then(|list| list.iter().find_map(|&i| events[i].envelope.boot.as_deref().filter(|b| *b == boot)))
                .unwrap_or("")
        });
        let own = event.envelope.device == of_device;
        let mut at_us = event.envelope.happened_at.micros();
        if own {
            at_us -= offset_us;
            if let (Some(then), Some(now)) = (counter_ms, event.envelope.monotonic_ms)
                && event.envelope.boot.as_deref() == boot.as_deref()
            {
                at_us -= (i64::try_from(now).unwrap_or(i64::MAX).saturating_sub(then)).saturating_mul(1000);
            }
        }
        found.entry(of_device).or_default().push(Measurement {
            event: index,
            boot: boot_name,
            counter_ms,
            offset_us,
            at_us,
        });
    }
    // A measurement made by another device counts at that device's own moved time; three rounds settle
    // any chain of devices that measure one another.
    for _ in 0..3 {
        let before = found.clone();
        for (of_device, list) in &mut found {
            for measurement in list {
                let event = &events[measurement.event];
                let reporter = event.envelope.device.as_str();
                if reporter == of_device {
                    continue;
                }
                let of_reporter = before.get(reporter).map_or(&[][..], Vec::as_slice);
                let indices = by_device.get(reporter).map_or(&[][..], Vec::as_slice);
                measurement.at_us = time_of(events, indices, measurement.event, of_reporter);
            }
        }
    }
    found
}

fn micros(seconds: f64) -> i64 {
    #[expect(clippy::cast_possible_truncation, reason = "held to a finite range by the caller")]
    let micros = (seconds * 1e6).round() as i64;
    micros
}

fn counter_ms(event: &Corrected<'_>) -> Option<i64> {
    event.envelope.monotonic_ms.and_then(|ms| i64::try_from(ms).ok())
}

/// The points of one start at which counter and ship's UTC are both known.
fn pegs(events: &[Corrected<'_>], indices: &[usize], boot: &str, measurements: &[Measurement<'_>]) -> Vec<Peg> {
    let exact: Vec<Peg> = measurements
        .iter()
        .filter(|m| m.boot == Some(boot))
        .filter_map(|m| m.counter_ms.map(|counter_ms| Peg { counter_ms, at_us: m.at_us }))
        .collect();
    if !exact.is_empty() {
        return exact;
    }
    let in_boot: Vec<usize> = indices
        .iter()
        .copied()
        .filter(|&i| events[i].envelope.boot.as_deref() == Some(boot) && events[i].envelope.happened_basis.is_bound())
        .collect();
    let tied: Vec<&Measurement<'_>> = measurements.iter().filter(|m| m.boot == Some(boot)).collect();
    let free: Vec<&Measurement<'_>> = measurements.iter().filter(|m| m.boot.is_none()).collect();
    let chosen = if !tied.is_empty() {
        tied
    } else if !free.is_empty() {
        free
    } else {
        measurements.iter().collect()
    };
    chosen
        .iter()
        .filter_map(|m| {
            in_boot
                .iter()
                .filter_map(|&i| {
                    counter_ms(&events[i]).map(|ms| (ms, events[i].envelope.happened_at.micros() - m.offset_us))
                })
                .min_by_key(|(_, at_us)| (at_us - m.at_us).abs())
                .map(|(counter_ms, at_us)| Peg { counter_ms, at_us })
        })
        .collect()
}

fn by_nearest_measurement(event: &Corrected<'_>, measurements: &[Measurement<'_>]) -> i64 {
    let clock_us = event.envelope.happened_at.micros();
    measurements
        .iter()
        .map(|m| clock_us - m.offset_us)
        .zip(measurements)
        .min_by_key(|(at_us, m)| (at_us - m.at_us).abs())
        .map_or(clock_us, |(at_us, _)| at_us)
}

fn by_pegs(counter_ms: i64, pegs: &[Peg]) -> Option<i64> {
    pegs.iter()
        .min_by_key(|peg| (peg.counter_ms - counter_ms).abs())
        .map(|peg| peg.at_us.saturating_add((counter_ms - peg.counter_ms).saturating_mul(1000)))
}

fn time_of(events: &[Corrected<'_>], indices: &[usize], index: usize, measurements: &[Measurement<'_>]) -> i64 {
    let event = &events[index];
    if measurements.is_empty() {
        return event.envelope.happened_at.micros();
    }
    if event.envelope.happened_basis.is_bound()
        && let (Some(boot), Some(ms)) = (event.envelope.boot.as_deref(), counter_ms(event))
        && let Some(at_us) = by_pegs(ms, &pegs(events, indices, boot, measurements))
    {
        return at_us;
    }
    by_nearest_measurement(event, measurements)
}

fn place_device(events: &[Corrected<'_>], indices: &[usize], measurements: &[Measurement<'_>], times_us: &mut [i64]) {
    let mut pegs_of_boot: BTreeMap<&str, Vec<Peg>> = BTreeMap::new();
    let mut floor_us = i64::MIN;
    for &index in indices {
        let event = &events[index];
        let bound = event.envelope.happened_basis.is_bound();
        let mut at_us = event.envelope.happened_at.micros();
        if !measurements.is_empty() {
            at_us = by_nearest_measurement(event, measurements);
            if bound && let (Some(boot), Some(ms)) = (event.envelope.boot.as_deref(), counter_ms(event)) {
                let pegs = pegs_of_boot.entry(boot).or_insert_with(|| pegs(events, indices, boot, measurements));
                at_us = by_pegs(ms, pegs).unwrap_or(at_us);
            }
        }
        if bound {
            at_us = at_us.max(floor_us);
            floor_us = at_us;
        }
        times_us[index] = at_us;
    }
}

fn say_what_is_doubtful(
    device: &str,
    events: &[Corrected<'_>],
    indices: &[usize],
    unmeasured: bool,
    doubts: &mut Vec<Doubt>,
) {
    let tapped = indices.iter().any(|&i| events[i].envelope.happened_basis != Basis::Instrument);
    if unmeasured && tapped {
        doubts.push(Doubt::new(
            "clock_unknown",
            device,
            format!("The clock of {device} was never measured against the ship's UTC; its times stand as they came."),
        ));
    }
    let mut expected = 1;
    let mut missing = 0;
    for &index in indices {
        let seq = events[index].envelope.device_seq;
        missing += seq.saturating_sub(expected);
        expected = seq.saturating_add(1);
    }
    if missing > 0 {
        doubts.push(Doubt::new(
            "sequence_gap",
            device,
            format!("{missing} events of {device} are missing from its sequence: not yet sent, or refused."),
        ));
    }
}
