//! What the script's sea holds. The rates, sizes and weights are round numbers of our own, chosen to look like a
//! working longliner's day (some 15 to 20 fish on 1,000 hooks); they are no data and support no conclusion.
//! Species by FAO three-letter codes (FAO, ASFIS List of Species for Fishery Statistics Purposes).

use super::dice::Dice;

/// What becomes of a kind of fish at the rail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Use {
    /// Kept.
    Kept,
    /// Let go, alive where it can be.
    Released,
    /// Thrown away.
    Discarded,
}

/// A kind of fish in one fishery.
#[derive(Debug, Clone, Copy)]
pub struct Stock {
    /// FAO code.
    pub species: &'static str,
    /// Caught on 1,000 hooks.
    pub per_thousand: f64,
    /// The part of the basket it is most often on: 0 beside the floats, 1 in the middle.
    pub favours: f64,
    /// Length, cm: middle and spread.
    pub length_cm: (f64, f64),
    /// How the length is taken.
    pub length_kind: &'static str,
    /// Round weight at the middle length, kg; others go with the cube of the length.
    pub weight_kg: f64,
    /// Weight after dressing as a share of round weight.
    pub dressed: f64,
    /// How it is dressed, as weighed.
    pub form: &'static str,
    /// What becomes of it.
    pub becomes: Use,
}

const fn stock(
    species: &'static str,
    per_thousand: f64,
    favours: f64,
    length_cm: (f64, f64),
    weight_kg: f64,
    becomes: Use,
) -> Stock {
    let length_kind = "upper_jaw_fork";
    Stock { species, per_thousand, favours, length_cm, length_kind, weight_kg, dressed: 0.88, form: "GG", becomes }
}

const SWORDFISH: Stock = Stock {
    length_kind: "lower_jaw_fork",
    dressed: 0.76,
    form: "DR",
    ..stock("SWO", 0.6, 0.3, (165.0, 22.0), 62.0, Use::Kept)
};

/// A deep set by day for tuna.
pub const DEEP: [Stock; 11] = [
    stock("BET", 4.4, 0.85, (128.0, 16.0), 46.0, Use::Kept),
    stock("YFT", 3.0, 0.45, (122.0, 12.0), 34.0, Use::Kept),
    stock("ALB", 5.6, 0.65, (96.0, 5.0), 18.0, Use::Kept),
    SWORDFISH,
    stock("BSH", 1.4, 0.4, (190.0, 25.0), 46.0, Use::Released),
    stock("DOL", 0.6, 0.1, (98.0, 9.0), 8.0, Use::Kept),
    stock("WAH", 0.5, 0.1, (118.0, 10.0), 11.0, Use::Kept),
    stock("SKJ", 0.5, 0.2, (66.0, 5.0), 6.0, Use::Kept),
    stock("LEC", 0.6, 0.7, (84.0, 9.0), 8.5, Use::Discarded),
    stock("PLS", 0.8, 0.3, (52.0, 5.0), 5.0, Use::Released),
    stock("ALX", 0.8, 0.8, (118.0, 14.0), 4.0, Use::Discarded),
];

/// A shallow set by night for swordfish.
pub const SHALLOW: [Stock; 6] = [
    Stock { per_thousand: 8.0, ..SWORDFISH },
    stock("BSH", 4.6, 0.4, (190.0, 25.0), 46.0, Use::Released),
    stock("BET", 2.2, 0.8, (132.0, 15.0), 50.0, Use::Kept),
    stock("YFT", 1.1, 0.4, (124.0, 12.0), 36.0, Use::Kept),
    stock("DOL", 1.6, 0.2, (98.0, 9.0), 8.0, Use::Kept),
    stock("PLS", 1.2, 0.3, (52.0, 5.0), 5.0, Use::Released),
];

/// Which fish is on a hook, if any. `middle` is 0 beside a float and 1 in the middle of the basket.
pub fn on_hook(stocks: &[Stock], middle: f64, dice: &mut Dice) -> Option<Stock> {
    let mut draw = dice.share() * 1000.0;
    for stock in stocks {
        // Twice the mean rate where it likes best, little where it likes least.
        let liking = (1.9 - 2.4 * (middle - stock.favours).abs()).max(0.15);
        draw -= stock.per_thousand * liking;
        if draw < 0.0 {
            return Some(*stock);
        }
    }
    None
}

/// Length in cm and round weight in kg of one fish.
pub fn measure(stock: &Stock, dice: &mut Dice) -> (f64, f64) {
    let length_cm = (stock.length_cm.0 + stock.length_cm.1 * dice.bell()).max(stock.length_cm.0 * 0.6).round();
    let weight_kg = stock.weight_kg * (length_cm / stock.length_cm.0).powi(3) * (1.0 + 0.05 * dice.bell());
    (length_cm, tenth(weight_kg))
}

/// Rounded to a tenth.
pub fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}
