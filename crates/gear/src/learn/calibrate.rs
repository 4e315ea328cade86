//! A set and its recorders' files in, what was learned out: reading, cutting, estimating, judging, carrying on.

use super::carry::Correction;
use super::fit::{Fit, LearnError, Observation, fit};
use super::model::{SetModel, Spot, StretchModel, main_line_m};
use super::parameters::{CurrentError, Prior, SagFix, Which};
use super::report::{Calibration, FitReport, ParameterReport, RecorderReport};
use super::separate::{Placed, separate};
use crate::recorder::{self, Doubt, HungOn, Mapping, Placement, RecorderError, SetTimes};

/// A set to learn from.
#[derive(Debug, Clone, PartialEq)]
pub struct LearningSet {
    /// The kind of gear: corrections are carried for each kind apart.
    pub gear: String,
    /// Its stretches.
    pub stretches: Vec<Stretch>,
    /// When it was set and hauled.
    pub times: SetTimes,
    /// Its latitude, degrees, for depth from pressure.
    pub latitude_deg: Option<f64>,
    /// How well the current is known; none in still water.
    pub current: Option<CurrentError>,
    /// What the boat learned before.
    pub prior: Option<Correction>,
}

/// Baskets that are alike.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// First and last basket, from 1.
    pub baskets: [u32; 2],
    /// The gear and the water.
    pub model: StretchModel,
    /// The sag ratio as radio buoys measured it.
    pub fix: Option<SagFix>,
}

/// A recorder's file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct RecorderFile<'a> {
    /// Its name, without folders.
    pub name: &'a str,
    /// What is in it.
    pub bytes: &'a [u8],
}

/// Why nothing was answered.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum CalibrateError {
    /// The mapping is at fault.
    #[error(transparent)]
    Mapping(#[from] RecorderError),
    /// The estimation is at fault.
    #[error(transparent)]
    Learn(#[from] LearnError),
}

/// Learns from a set. A file that cannot be used is a doubt; the others are learned from.
///
/// # Errors
/// [`CalibrateError`] when the mapping itself, the gear or the correction is at fault, or the estimation finds nothing.
pub fn calibrate(
    set: &LearningSet,
    mapping: &Mapping,
    files: &[RecorderFile<'_>],
) -> Result<Calibration, CalibrateError> {
    mapping.check()?;
    let mut doubts = Vec::new();
    let boat = boat_before(set, &mut doubts)?;
    let mut recorders = Vec::new();
    let mut model =
        SetModel { stretches: set.stretches.iter().map(|stretch| stretch.model.clone()).collect(), places: Vec::new() };
    let mut observations = Vec::new();
    // Which recorder a place of the model belongs to.
    let mut owners = Vec::new();
    for (file, placement) in matched(mapping, files, &mut doubts) {
        let (mut report, spot) = read_one(set, mapping, file, placement);
        if let (true, Some(spot), Some(cut)) = (report.used, spot, &report.cut) {
            let place = model.places.len();
            observations.extend(cut.medians.iter().map(|median| Observation { place, depth_m: median.depth_m }));
            model.places.push(spot);
            owners.push(recorders.len());
        } else {
            report.used = false;
        }
        recorders.push(report);
    }
    if set.current.is_none() {
        let text = "no current was given: the gear is taken to hang in still water, and all that is off is learned as sag ratio.";
        doubts.push(Doubt::new("no_current", "set", text));
    }
    let mut calibration = Calibration {
        gear: set.gear.clone(),
        recorders,
        parameters: Vec::new(),
        refusals: Vec::new(),
        fit: None,
        correction: boat.clone(),
        doubts,
    };
    if observations.is_empty() {
        let text = LearnError::NoObservation.to_string();
        calibration.doubts.push(Doubt::new("nothing_learned", "set", text));
        calibration.correction = set.prior.clone().filter(|prior| prior.gear == set.gear).unwrap_or(boat);
        return Ok(calibration);
    }
    let fixes: Vec<_> = set.stretches.iter().map(|stretch| stretch.fix).collect();
    let prior = Prior::of_set(&boat, &fixes, set.current);
    let found = fit(&model, &observations, &prior)?;
    report(&mut calibration, &model, &observations, &owners, &prior, &found);
    let told_apart = told_apart(&calibration.parameters);
    calibration.correction = boat.after_set(&prior, &found, told_apart)?;
    Ok(calibration)
}

/// What the boat knew before this set, one step on.
fn boat_before(set: &LearningSet, doubts: &mut Vec<Doubt>) -> Result<Correction, LearnError> {
    match &set.prior {
        Some(prior) if prior.gear == set.gear => {
            prior.check()?;
            Ok(prior.stepped())
        }
        Some(prior) => {
            let text = format!(
                "the prior correction was learned with gear \"{}\", this set was fished with \"{}\": it was not used, and this \
                 gear begins anew.",
                prior.gear, set.gear
            );
            doubts.push(Doubt::new("correction_of_other_gear", "prior", text));
            Ok(Correction::fresh(&set.gear))
        }
        None => Ok(Correction::fresh(&set.gear)),
    }
}

/// Files with their recorders; what has no partner is a doubt.
fn matched<'a>(
    mapping: &'a Mapping,
    files: &[RecorderFile<'a>],
    doubts: &mut Vec<Doubt>,
) -> Vec<(RecorderFile<'a>, &'a Placement)> {
    let mut pairs = Vec::new();
    let mut met = vec![0_usize; mapping.recorders.len()];
    let mut sorted = files.to_vec();
    sorted.sort_by_key(|file| file.name);
    for file in sorted {
        let before = recorder::before_readings(file.bytes, mapping);
        let fitting: Vec<usize> =
            (0..met.len()).filter(|index| mapping.recorders[*index].is_of(file.name, &before)).collect();
        for index in &fitting {
            met[*index] += 1;
        }
        match fitting.as_slice() {
            [index] => pairs.push((file, &mapping.recorders[*index])),
            [] => {
                let text = "no recorder of the mapping fits this file's name or serial number; it was not read.";
                doubts.push(Doubt::new("file_without_recorder", file.name, text));
            }
            more => {
                let text = format!("{} recorders of the mapping fit this file; it was not read.", more.len());
                doubts.push(Doubt::new("file_of_several_recorders", file.name, text));
            }
        }
    }
    for (index, placement) in mapping.recorders.iter().enumerate() {
        let name = placement.file.as_ref().or(placement.serial.as_ref()).cloned().unwrap_or_default();
        let concerns = format!("recorder {} ({name}), basket {}", index + 1, placement.basket);
        match met[index] {
            0 => doubts.push(Doubt::new("recorder_without_file", concerns, "there is no file of this recorder.")),
            1 => {}
            count => {
                let text = format!("{count} files fit this recorder: each was taken as a recorder at the same place.");
                doubts.push(Doubt::new("recorder_with_several_files", concerns, text));
            }
        }
    }
    pairs
}

/// Reads and cuts one file and finds its place.
fn read_one(
    set: &LearningSet,
    mapping: &Mapping,
    file: RecorderFile<'_>,
    placement: &Placement,
) -> (RecorderReport, Option<(usize, Spot)>) {
    let mut report = RecorderReport {
        file: file.name.to_owned(),
        basket: placement.basket,
        stretch: None,
        on: placement.on,
        hook_position: placement.hook_position,
        along_m: placement.along_m,
        used: false,
        left_out_because: None,
        readings: 0,
        interval_s: None,
        surface_offset_m: None,
        cut: None,
        observed_m: None,
        modelled_before_m: None,
        modelled_after_m: None,
        modelled_after_error_m: None,
        doubts: Vec::new(),
    };
    let mut reading = match recorder::read(file.name, file.bytes, mapping, placement, set.latitude_deg) {
        Ok(reading) => reading,
        Err(error) => {
            report.doubts.push(Doubt::new("unreadable", file.name, error.to_string()));
            report.left_out_because = Some("it could not be read".to_owned());
            return (report, None);
        }
    };
    let last = set.stretches.iter().map(|stretch| stretch.baskets[1]).max().filter(|last| *last < u32::MAX);
    let turn = last.map(|last| ((f64::from(placement.basket) - 0.5) / f64::from(last)).clamp(0.0, 1.0));
    let times = SetTimes { turn, ..set.times };
    // A depth that is upside down has no phases.
    let cut = if reading.unfit.is_none() { recorder::cut(&mut reading, &times) } else { None };
    report.readings = reading.samples.len();
    report.interval_s = reading.interval_s;
    report.surface_offset_m = Some(reading.surface_offset_m);
    report.doubts = reading.doubts;
    report.observed_m = cut.as_ref().and_then(|cut| cut.soak_depth_m);
    let place = place_of(set, placement);
    if let Ok((stretch, _)) = &place {
        report.stretch = Some(stretch + 1);
    }
    let no_soak = cut.as_ref().is_none_or(|cut| cut.medians.is_empty());
    report.left_out_because = match (&reading.unfit, &place) {
        (Some(unfit), _) => Some(unfit.clone()),
        (None, Err(fault)) => {
            report.doubts.push(Doubt::new("no_such_place", file.name, format!("{fault}; it was not used.")));
            Some(fault.clone())
        }
        (None, Ok(_)) if no_soak => Some("no soak could be cut out of it".to_owned()),
        (None, Ok(_)) => None,
    };
    report.used = report.left_out_because.is_none();
    report.cut = cut;
    (report, place.ok())
}

/// The stretch, from 0, and spot of a recorder, or why it cannot hang there.
fn place_of(set: &LearningSet, placement: &Placement) -> Result<(usize, Spot), String> {
    let number = placement.basket;
    let stretch = set
        .stretches
        .iter()
        .position(|stretch| (stretch.baskets[0]..=stretch.baskets[1]).contains(&number))
        .ok_or_else(|| format!("basket {number} is in no stretch of the set"))?;
    let basket = set.stretches[stretch].model.basket();
    let hook = |hook: Option<u32>| match hook {
        Some(hook) if (1..=basket.hooks).contains(&hook) => Ok(hook),
        _ => Err(format!("hook position {} is not among the basket's {}", hook.unwrap_or(0), basket.hooks)),
    };
    let spot = match placement.on {
        HungOn::FloatLineEnd => Spot::FloatLineEnd,
        HungOn::BranchLine => {
            Spot::Branch { hook: hook(placement.hook_position)?, below_clip_m: placement.below_clip_m }
        }
        HungOn::MainLine => {
            let lead = if basket.float_takes_a_beat { 0.0 } else { 0.5 };
            let along_m = match placement.along_m {
                Some(along_m) => along_m,
                None => (f64::from(hook(placement.hook_position)?) - lead) * basket.clip_spacing_m,
            };
            let line_m = main_line_m(basket);
            if along_m > line_m {
                return Err(format!("{along_m} m along the main line is beyond the basket's {line_m} m"));
            }
            Spot::MainLine { along_m }
        }
    };
    Ok((stretch, spot))
}

/// Fills in what was found.
fn report(
    calibration: &mut Calibration,
    model: &SetModel,
    observations: &[Observation],
    owners: &[usize],
    prior: &Prior,
    found: &Fit,
) {
    for (place, owner) in owners.iter().enumerate() {
        let row = found.sensitivity.row(place);
        let recorder = &mut calibration.recorders[*owner];
        recorder.modelled_before_m = Some(found.depths_before_m[place]);
        recorder.modelled_after_m = Some(found.depths_after_m[place]);
        recorder.modelled_after_error_m = Some((row * &found.covariance * row.transpose())[(0, 0)].max(0.0).sqrt());
    }
    let placed: Vec<Placed> = (0..model.places.len()).filter_map(|place| model.placed(place)).collect();
    let (separated, refusals) = separate(prior, found, &placed);
    for (index, one) in separated.iter().enumerate() {
        let refused = one.seen && !one.told_apart;
        calibration.parameters.push(ParameterReport {
            name: one.which.name().to_owned(),
            stretch: one.which.stretch(),
            prior: prior.mean[index],
            prior_error: prior.error(index),
            estimate: (!refused).then_some(found.estimate[index]),
            standard_error: (!refused).then_some(found.covariance[(index, index)].sqrt()),
            posterior_to_prior: one.together,
            posterior_to_prior_alone: one.alone,
            measured: prior.measured[index],
            refused,
        });
    }
    for (which, estimate) in prior.which.iter().zip(found.estimate.iter()) {
        if let Which::SagBias(stretch) = which
            && let Some(model) = model.stretches.get(*stretch)
            && model.basket().sag_ratio + estimate > 0.98
        {
            let text = format!(
                "its sag ratio comes out at {:.3}: so near to a taut line depth changes steeply with it, and the stated errors are too small.",
                model.basket().sag_ratio + estimate
            );
            calibration.doubts.push(Doubt::new("nearly_taut", format!("stretch {}", stretch + 1), text));
        }
    }
    calibration.refusals = refusals;
    let off_m = |depths_m: &[f64]| {
        let square: f64 = observations.iter().map(|one| (one.depth_m - depths_m[one.place]).powi(2)).sum();
        (square / observations.len() as f64).sqrt()
    };
    calibration.fit = Some(FitReport {
        windows: observations.len(),
        off_before_m: off_m(&found.depths_before_m),
        off_after_m: off_m(&found.depths_after_m),
        persistence: found.persistence,
        rounds: found.rounds,
    });
}

/// Whether the drag-to-weight ratio, and a sag ratio, were told from the rest.
fn told_apart(parameters: &[ParameterReport]) -> [bool; 2] {
    let told = |which: &str| {
        parameters
            .iter()
            .any(|one| one.name == which && !one.refused && !one.measured && one.posterior_to_prior_alone < 0.95)
    };
    [told(Which::DragToWeight.name()), told(Which::SagBias(0).name())]
}
