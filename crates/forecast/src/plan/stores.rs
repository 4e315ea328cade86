//! What the set uses up: needed against aboard, bait by kind, bins.

use voyage::Doubt;

use super::answer::{BaitNeeded, BinUse, Needed, NeededWhat, Totals};
use super::wanted::{Aboard, BaitAboard, PlanWanted};

/// What a set needs.
pub(super) struct Stores {
    pub needed: Vec<Needed>,
    pub bait: Vec<BaitNeeded>,
    pub bins: Vec<BinUse>,
    pub short: Option<u32>,
}

pub(super) fn stores(wanted: &PlanWanted, totals: &Totals, doubts: &mut Vec<Doubt>) -> Stores {
    let none = Aboard::default();
    let aboard = wanted.aboard.as_ref().unwrap_or(&none);
    let row = |what, needed: Option<f64>, aboard: Option<f64>| Needed {
        what,
        needed,
        aboard,
        enough: needed.zip(aboard).map(|(needed, aboard)| aboard >= needed),
    };
    let (bins, short) = bins(aboard, totals.hooks);
    Stores {
        needed: vec![
            row(NeededWhat::MainLine, totals.main_line_m, aboard.main_line_m),
            row(NeededWhat::BranchLines, totals.hooks.map(f64::from), aboard.branch_lines),
            row(NeededWhat::Floats, totals.floats.map(f64::from), aboard.floats),
            row(NeededWhat::RadioBuoys, totals.radio_buoys.map(f64::from), aboard.radio_buoys),
        ],
        bait: bait(wanted, aboard, totals.hooks, doubts),
        bins,
        short,
    }
}

/// One piece a hook, by shares that are made to come to the whole.
fn bait(wanted: &PlanWanted, aboard: &Aboard, hooks: Option<u32>, doubts: &mut Vec<Doubt>) -> Vec<BaitNeeded> {
    let shares = shares(&aboard.bait, doubts);
    let pieces = hooks.map(|hooks| dealt(hooks, &shares));
    aboard
        .bait
        .iter()
        .enumerate()
        .map(|(index, kind)| {
            let pieces = pieces.as_ref().and_then(|pieces| pieces.get(index).copied());
            let boxes = pieces.zip(kind.pieces_per_box).map(|(pieces, each)| (f64::from(pieces) / each).ceil());
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "boxes are few; the cast saturates"
            )]
            let sets_left =
                boxes.zip(kind.boxes).filter(|(boxes, _)| *boxes > 0.0).map(|(boxes, left)| (left / boxes) as u32);
            BaitNeeded {
                bait: kind.bait.clone(),
                pieces,
                boxes,
                boxes_aboard: kind.boxes,
                enough: boxes.zip(kind.boxes).map(|(boxes, aboard)| aboard >= boxes),
                take_out_by: wanted
                    .start_at
                    .zip(kind.thaw_h)
                    .map(|(start, thaw_h)| start.plus_seconds(-3600.0 * thaw_h)),
                sets_left,
            }
        })
        .collect()
}

fn shares(bait: &[BaitAboard], doubts: &mut Vec<Doubt>) -> Vec<f64> {
    let given: f64 = bait.iter().filter_map(|kind| kind.share).sum();
    let without = bait.iter().filter(|kind| kind.share.is_none()).count();
    #[expect(clippy::cast_precision_loss, reason = "kinds of bait are few")]
    let rest = if without > 0 { (1.0 - given).max(0.0) / without as f64 } else { 0.0 };
    let shares: Vec<f64> = bait.iter().map(|kind| kind.share.unwrap_or(rest)).collect();
    let sum: f64 = shares.iter().sum();
    if !bait.is_empty() && (sum - 1.0).abs() > 0.005 {
        let text =
            format!("The shares of the bait come to {:.0} %, not to 100 %: they are taken in proportion.", 100.0 * sum);
        doubts.push(Doubt::new("bait_shares", "bait", text));
    }
    shares
}

/// Whole pieces in proportion to shares, none lost: the largest remainders get the pieces that are left.
fn dealt(hooks: u32, shares: &[f64]) -> Vec<u32> {
    let sum: f64 = shares.iter().sum();
    if sum <= 0.0 {
        return vec![0; shares.len()];
    }
    let exact: Vec<f64> = shares.iter().map(|share| f64::from(hooks) * share / sum).collect();
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most the hooks of a set")]
    let mut pieces: Vec<u32> = exact.iter().map(|pieces| (pieces + 1e-9).floor() as u32).collect();
    let mut order: Vec<usize> = (0..shares.len()).collect();
    let remainder = |index: usize| exact[index] - f64::from(pieces[index]);
    order.sort_by(|a, b| remainder(*b).total_cmp(&remainder(*a)));
    let left = hooks.saturating_sub(pieces.iter().sum());
    for index in order.into_iter().take(left as usize) {
        pieces[index] += 1;
    }
    pieces
}

/// Bins in the order given until the hooks suffice.
fn bins(aboard: &Aboard, hooks: Option<u32>) -> (Vec<BinUse>, Option<u32>) {
    let Some(mut left) = hooks.filter(|_| !aboard.bins.is_empty()) else { return (Vec::new(), None) };
    let mut bins = Vec::new();
    for bin in &aboard.bins {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked to be whole and small")]
        let used = (bin.hooks as u32).min(left);
        if used > 0 {
            bins.push(BinUse { bin: bin.bin.clone(), hooks: used });
            left -= used;
        }
    }
    (bins, Some(left))
}
