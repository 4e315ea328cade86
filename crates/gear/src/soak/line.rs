//! The whole line between two moments: floats as slow states, baskets in balance between them.
//!
//! Unknown in each step are the horizontal velocity of every float line's lower end and, for a float that has gone under,
//! its depth; and the pull of every basket. Backward Euler in time, Newton in space: every round marches each basket once
//! with its derivatives, takes its pull out of the equations, and solves for the floats by blocks. Inside a basket the
//! line's own velocity goes linearly from end to end. Nothing is held anywhere: the line drifts, stretches and slumps by
//! its own forces and the sea's.

use crate::catenary::Basket;
use crate::current::Profile;
use crate::error::GearError;
use crate::float_line::Tether;
use crate::march::{Care, Landing, Launch, Strand, march, pressure};
use crate::shoot::{Ends, Pull, close, still_start};
use crate::soak::blocks::{Row, solve};
use crate::vector::{Matrix, Vector, inverse, norm, plus, product, times};

/// Largest gap at a basket's end, m, and horizontal force left on a float, N, that count as balanced in a step.
const CLOSED_M: f64 = 1e-4;
const FREE_N: f64 = 1e-5;
const IMBALANCE_N: f64 = 1e-3;
const MOST_ROUNDS: u32 = 30;
const MOST_CAREFUL_ROUNDS: u32 = 60;
/// A share of a step shorter than this leads nowhere.
const SHORTEST_SHARE: f64 = 1.0 / 256.0;
/// Float lines count as settled when their lower ends move less than this from one look to the next, metres.
const SETTLED_M: f64 = 1e-6;
const MOST_SETTLINGS: u32 = 40;
/// The elements of a basket that cannot be closed are halved at most so often.
const MOST_HALVINGS: u32 = 3;
/// Those of the whole line, where its floats find no balance.
const MOST_LINE_HALVINGS: u32 = 1;
/// Drag of what has none, N for 1 m/s: a float with nothing on it stays where it is.
const NO_DRAG_N_S_M: f64 = 1e-9;
/// Largest change of a velocity in one round, m/s.
const MOST_CHANGE_M_S: f64 = 0.1;

/// One float with its line, and what hangs on it beside the baskets.
#[derive(Debug, Clone)]
pub(crate) struct FloatState {
    pub tether: Tether,
    /// A drogue: ½ρ C A, kg/m, and its depth, metres.
    pub drogue: Option<(f64, f64)>,
    /// Torn line that hangs from it: ½ρ d C_n, kg/m², and its length, metres.
    pub tails: Vec<(f64, f64)>,
    /// Lower end of the float line: north and east of the origin, metres.
    pub place_m: [f64; 2],
    pub velocity_m_s: [f64; 2],
    /// How far the float is under, metres; 0 at the surface.
    pub under_m: f64,
    pub is_under: bool,
    /// From the float down to the lower end of its line, metres.
    pub down_m: f64,
    /// Whether it is in the water yet.
    pub afloat: bool,
}

/// One basket, or the gap where none is.
#[derive(Debug, Clone)]
pub(crate) struct BasketState {
    pub basket: Basket,
    pub strand: std::sync::Arc<Strand>,
    pub pull: Pull,
    /// False: nothing connects its two floats (a gap, or a cut).
    pub whole: bool,
    /// Its line's pull at the far end, N.
    pub last_n: Vector,
    /// When the formula of `sink::law` has it settled, seconds after the beginning; none before it is set.
    pub settled_at_s: Option<f64>,
    /// How its first pull changed over the last step, N/s: where the next one begins to look.
    pub pull_rate_n_s: Vector,
}

/// The line: one float more than baskets.
#[derive(Debug, Clone)]
pub(crate) struct Line {
    pub floats: Vec<FloatState>,
    pub baskets: Vec<BasketState>,
}

/// What a step left over and took.
#[derive(Debug, Clone, Copy, Default)]
pub struct StepCost {
    /// Rounds of Newton.
    pub rounds: u32,
    /// Largest gap at a basket's end, metres.
    pub gap_m: f64,
    /// Largest horizontal force left on a float, N.
    pub net_n: f64,
}

impl StepCost {
    /// The larger of each.
    #[must_use]
    pub fn with(self, other: Self) -> Self {
        Self {
            rounds: self.rounds + other.rounds,
            gap_m: self.gap_m.max(other.gap_m),
            net_n: self.net_n.max(other.net_n),
        }
    }
}

impl Line {
    /// Whether a basket hangs between its two floats now.
    pub(crate) fn hangs(&self, basket: usize) -> bool {
        self.baskets[basket].whole && self.floats[basket].afloat && self.floats[basket + 1].afloat
    }

    pub(crate) fn ends(&self, basket: usize) -> Ends {
        let (first, last) = (&self.floats[basket], &self.floats[basket + 1]);
        Ends {
            apart_m: [
                last.place_m[0] - first.place_m[0],
                last.place_m[1] - first.place_m[1],
                last.end_depth_m() - first.end_depth_m(),
            ],
            depth_m: first.end_depth_m(),
            first_m_s: first.velocity_m_s,
            last_m_s: last.velocity_m_s,
        }
    }

    /// Brings a basket into balance from nothing: when it is set, or after its floats were moved.
    pub(crate) fn close(&mut self, basket: usize, profile: &Profile) -> Result<(), GearError> {
        let ends = self.ends(basket);
        let state = &mut self.baskets[basket];
        let mut shot = close(&state.strand, profile, &ends, &mut state.pull);
        let mut strand = std::sync::Arc::clone(&state.strand);
        for halving in 0..=MOST_HALVINGS {
            if shot.is_ok() {
                break;
            }
            if halving > 0 {
                strand = std::sync::Arc::new(strand.halved());
            }
            state.pull = still_start(&strand, ends.apart_m);
            shot = close(&strand, profile, &ends, &mut state.pull);
        }
        let shot = shot?;
        state.strand = strand;
        (state.last_n, state.pull_rate_n_s) = (shot.last_n, [0.0; 3]);
        Ok(())
    }

    /// Moves the line on by `step_s`; `profile` gives the current at a basket, north and east. On an error the line is
    /// as it was.
    pub(crate) fn step<'p>(
        &mut self,
        step_s: f64,
        profile: &impl Fn(usize) -> &'p Profile,
    ) -> Result<StepCost, GearError> {
        let before = self.clone();
        self.newton(step_s, profile).or_else(|_| {
            *self = before.clone();
            let mut found = self.careful(step_s, profile);
            // Long elements in a strong current may jump from one balanced shape to another: then shorter ones are tried.
            for halvings in 1..=MOST_LINE_HALVINGS {
                if found.is_ok() {
                    break;
                }
                *self = before.clone();
                for _ in 0..halvings {
                    self.halve();
                }
                found = self.careful(step_s, profile);
            }
            found.inspect_err(|_| *self = before)
        })
    }

    /// All baskets in elements half as long, to be closed anew.
    fn halve(&mut self) {
        for basket in 0..self.baskets.len() {
            let apart_m = self.ends(basket).apart_m;
            let state = &mut self.baskets[basket];
            state.strand = std::sync::Arc::new(state.strand.halved());
            let first_n = state.pull.first_n;
            state.pull = still_start(&state.strand, apart_m);
            state.pull.first_n = first_n;
        }
    }

    /// The slower way, for where Newton on floats and baskets together runs away: every basket is closed anew for every trial
    /// of the floats' velocities, and their step is halved until the forces left on them shrink.
    fn careful<'p>(&mut self, step_s: f64, profile: &impl Fn(usize) -> &'p Profile) -> Result<StepCost, GearError> {
        let began: Vec<[f64; 2]> = self.floats.iter().map(|float| float.place_m).collect();
        let (mut rows, mut marched) = (vec![Row::default(); self.floats.len()], vec![None; self.baskets.len()]);
        self.place(step_s, &began);
        let mut state = self.look(step_s, profile, &mut rows, &mut marched)?;
        for round in 1..=MOST_CAREFUL_ROUNDS {
            if state.is_balanced() {
                for basket in &mut self.baskets {
                    basket.pull_rate_n_s = [0.0; 3];
                }
                return Ok(StepCost { rounds: round, gap_m: state.gap_m, net_n: state.net_n });
            }
            let failed = GearError::NotConverged { iterations: round, gap_m: state.gap_m };
            solve(&mut rows).ok_or(failed.clone())?;
            let wanted: Vec<Vector> = rows.iter().map(|row| row.known).collect();
            let fastest = wanted.iter().map(|change| change[0].hypot(change[1])).fold(1e-300, f64::max);
            let mut share = (MOST_CHANGE_M_S / fastest).min(1.0);
            let from = self.clone();
            state = loop {
                for (float, change) in self.floats.iter_mut().zip(&wanted).filter(|(float, _)| float.afloat) {
                    for axis in 0..2 {
                        float.velocity_m_s[axis] += share * change[axis];
                    }
                    float.under_m += share * change[2];
                }
                self.place(step_s, &began);
                match self.look(step_s, profile, &mut rows, &mut marched) {
                    // A float that goes under or comes up changes the equations: what is left cannot be compared.
                    Ok(found) if found.switched || found.left_n2 < (1.0 - 0.1 * share) * state.left_n2 => break found,
                    Ok(found) if found.is_balanced() => break found,
                    _ => share *= 0.5,
                }
                if share < SHORTEST_SHARE {
                    return Err(failed);
                }
                *self = from.clone();
            };
        }
        Err(GearError::NotConverged { iterations: MOST_CAREFUL_ROUNDS, gap_m: state.gap_m })
    }

    /// Floats where their velocities bring them within a step.
    fn place(&mut self, step_s: f64, began: &[[f64; 2]]) {
        for (float, began) in self.floats.iter_mut().zip(began).filter(|(float, _)| float.afloat) {
            for axis in 0..2 {
                float.place_m[axis] = began[axis] + step_s * float.velocity_m_s[axis];
            }
        }
    }

    /// Closes all baskets between the floats where they are, and says what is left on these.
    fn look<'p>(
        &mut self,
        step_s: f64,
        profile: &impl Fn(usize) -> &'p Profile,
        rows: &mut [Row],
        marched: &mut [Option<Marched>],
    ) -> Result<Residual, GearError> {
        for settling in 0..MOST_SETTLINGS {
            for basket in 0..self.baskets.len() {
                if self.hangs(basket) {
                    self.close(basket, profile(basket))?;
                }
            }
            self.march_all(profile, marched)?;
            let hung_m: Vec<f64> = self.floats.iter().map(|float| float.down_m).collect();
            let found = self.assemble(step_s, profile, marched, rows);
            // Float lines lean by what hangs on them, and that hangs as deep as they let it.
            let moved_m = self.floats.iter().zip(&hung_m).map(|(float, hung_m)| (float.down_m - hung_m).abs());
            if moved_m.fold(0.0, f64::max) <= SETTLED_M {
                return Ok(found);
            }
            // Under a taut line they would swing up and down for ever.
            if settling > 2 {
                for (float, hung_m) in self.floats.iter_mut().zip(&hung_m) {
                    float.down_m = f64::midpoint(float.down_m, *hung_m);
                }
            }
        }
        Err(GearError::NotConverged { iterations: MOST_SETTLINGS, gap_m: SETTLED_M })
    }

    fn newton<'p>(&mut self, step_s: f64, profile: &impl Fn(usize) -> &'p Profile) -> Result<StepCost, GearError> {
        let began: Vec<[f64; 2]> = self.floats.iter().map(|float| float.place_m).collect();
        for float in self.floats.iter_mut().filter(|float| float.afloat) {
            for axis in 0..2 {
                float.place_m[axis] += step_s * float.velocity_m_s[axis];
            }
        }
        let first_n: Vec<Vector> = self.baskets.iter().map(|basket| basket.pull.first_n).collect();
        for state in &mut self.baskets {
            let change = state.pull_rate_n_s.map(|rate| step_s * rate);
            if norm(change) < 0.2 * norm(state.pull.first_n) {
                state.pull.first_n = plus(state.pull.first_n, 1.0, change);
            }
        }
        let mut rows = vec![Row::default(); self.floats.len()];
        let mut marched = vec![None; self.baskets.len()];
        let mut cost = StepCost::default();
        for round in 1..=MOST_ROUNDS {
            self.march_all(profile, &mut marched)?;
            let state = self.assemble(step_s, profile, &marched, &mut rows);
            cost = StepCost { rounds: round, gap_m: state.gap_m, net_n: state.net_n };
            if state.is_balanced() {
                for (state, first_n) in self.baskets.iter_mut().zip(&first_n) {
                    state.pull_rate_n_s = plus(state.pull.first_n, -1.0, *first_n).map(|value| value / step_s);
                }
                return Ok(cost);
            }
            if !(state.gap_m.is_finite() && state.net_n.is_finite()) {
                break;
            }
            solve(&mut rows).ok_or(GearError::NotConverged { iterations: round, gap_m: state.gap_m })?;
            let share = self.share(&rows, &marched);
            self.take(step_s, share, &began, &rows, &marched);
        }
        Err(GearError::NotConverged { iterations: cost.rounds, gap_m: cost.gap_m })
    }

    fn march_all<'p>(
        &mut self,
        profile: &impl Fn(usize) -> &'p Profile,
        marched: &mut [Option<Marched>],
    ) -> Result<(), GearError> {
        for (basket, slot) in marched.iter_mut().enumerate() {
            *slot = None;
            if !self.hangs(basket) {
                continue;
            }
            let ends = self.ends(basket);
            let state = &mut self.baskets[basket];
            let launch = Launch {
                pull_n: state.pull.first_n,
                depth_m: ends.depth_m,
                first_m_s: ends.first_m_s,
                last_m_s: ends.last_m_s,
            };
            let landing = march::<7>(&state.strand, profile(basket), &launch, &mut state.pull.lag_n, Care::Once);
            let failed = GearError::NotConverged { iterations: 1, gap_m: f64::INFINITY };
            let landing = landing.ok_or(failed.clone())?;
            state.last_n = landing.pull_n;
            let gap = plus(landing.reach_m, -1.0, ends.apart_m);
            *slot = Some(Marched::new(&landing, gap).ok_or(failed)?);
        }
        Ok(())
    }

    /// The equations of all floats, linear around the present state.
    fn assemble<'p>(
        &mut self,
        step_s: f64,
        profile: &impl Fn(usize) -> &'p Profile,
        marched: &[Option<Marched>],
        rows: &mut [Row],
    ) -> Residual {
        let mut residual = Residual::default();
        for row in rows.iter_mut() {
            *row = Row::default();
        }
        for index in 0..self.floats.len() {
            let near = profile(index.min(self.baskets.len().saturating_sub(1)));
            let hung = self.hung_n(index, marched);
            let float = &mut self.floats[index];
            if !float.afloat {
                rows[index].own = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
                continue;
            }
            let (force, by_water) = float.drag(near);
            let lean = float.tether.lean(near, float.under_m, float.velocity_m_s, [hung[0], hung[1]], hung[2]);
            float.down_m = lean.down_m;
            residual.switched |= float.switch(hung[2]);
            let row = &mut rows[index];
            let mut net = [hung[0] + force[0], hung[1] + force[1], 0.0];
            for axis in 0..2 {
                for other in 0..2 {
                    row.own[axis][other] -= by_water[axis][other];
                }
                row.own[axis][axis] -= NO_DRAG_N_S_M;
            }
            // A float at the surface stays there; one that is under hangs where its line carries what it cannot.
            if float.is_under {
                net[2] = hung[2] - float.tether.carries_n.unwrap_or(f64::INFINITY);
            } else {
                row.own[2] = [0.0, 0.0, 1.0];
                net[2] = float.under_m;
            }
            residual.net_n = residual.net_n.max(net[0].abs()).max(net[1].abs());
            residual.left_n2 += net[0] * net[0] + net[1] * net[1];
            if float.is_under {
                residual.net_n = residual.net_n.max(net[2].abs());
                residual.left_n2 += net[2] * net[2];
            }
            row.known = [-net[0], -net[1], -net[2]];
        }
        for (basket, done) in marched.iter().enumerate() {
            let Some(done) = done else { continue };
            residual.gap_m = residual.gap_m.max(norm(done.gap));
            residual.imbalance_n = residual.imbalance_n.max(done.imbalance_n);
            // δT = −R⁻¹ gap + first · x_first + last · x_last
            let first = done.pull_by_first(step_s);
            let last = done.pull_by_last(step_s);
            let settle = times(&done.back, done.gap);
            let is_under = [self.floats[basket].is_under, self.floats[basket + 1].is_under];
            add(&mut rows[basket], Side::Own, &first, is_under[0]);
            add(&mut rows[basket], Side::Right, &last, is_under[0]);
            take_known(&mut rows[basket], settle, is_under[0]);
            // The far end pulls back with −N; δN = N_T δT + N_V δV.
            let far_first = minus_plus(&product(&done.end_by_pull, &first), &done.end_by_first);
            let far_last = minus_plus(&product(&done.end_by_pull, &last), &done.end_by_last);
            add(&mut rows[basket + 1], Side::Left, &far_first, is_under[1]);
            add(&mut rows[basket + 1], Side::Own, &far_last, is_under[1]);
            let far = times(&done.end_by_pull, settle);
            take_known(&mut rows[basket + 1], [-far[0], -far[1], -far[2]], is_under[1]);
        }
        residual
    }

    /// What the baskets on both sides pull a float line's lower end with, N.
    fn hung_n(&self, float: usize, marched: &[Option<Marched>]) -> Vector {
        let mut hung = [0.0; 3];
        if float > 0 && marched[float - 1].is_some() {
            hung = plus(hung, -1.0, self.baskets[float - 1].last_n);
        }
        if float < marched.len() && marched[float].is_some() {
            hung = plus(hung, 1.0, self.baskets[float].pull.first_n);
        }
        hung
    }

    /// The share of Newton's step that may be taken: no pull changes by more than half of itself.
    fn share(&self, rows: &[Row], marched: &[Option<Marched>]) -> f64 {
        let mut share = 1.0_f64;
        for row in rows {
            share = share.min(MOST_CHANGE_M_S / row.known[0].hypot(row.known[1]).max(1e-300));
        }
        for (basket, done) in marched.iter().enumerate() {
            let Some(done) = done else { continue };
            // What closes the gap alone; the floats' part of the change is bounded by their own limit.
            let most = 0.5 * norm(self.baskets[basket].pull.first_n);
            share = share.min(most / norm(times(&done.back, done.gap)).max(1e-300));
        }
        share
    }

    fn take(&mut self, step_s: f64, share: f64, began: &[[f64; 2]], rows: &[Row], marched: &[Option<Marched>]) {
        for (basket, done) in marched.iter().enumerate() {
            let Some(done) = done else { continue };
            let mut change = times(&done.back, done.gap).map(|value| -value);
            change = plus(change, 1.0, times(&done.pull_by_first(step_s), rows[basket].known));
            change = plus(change, 1.0, times(&done.pull_by_last(step_s), rows[basket + 1].known));
            let pull = &mut self.baskets[basket].pull;
            let most = 0.7 * norm(pull.first_n);
            let own = share.min(most / norm(change).max(1e-300));
            pull.first_n = plus(pull.first_n, own, change);
        }
        for ((float, row), began) in self.floats.iter_mut().zip(rows).zip(began) {
            if !float.afloat {
                continue;
            }
            for axis in 0..2 {
                float.velocity_m_s[axis] += share * row.known[axis];
                float.place_m[axis] = began[axis] + step_s * float.velocity_m_s[axis];
            }
            float.under_m += share * row.known[2];
        }
    }
}

/// What a round leaves over.
#[derive(Debug, Default)]
struct Residual {
    gap_m: f64,
    net_n: f64,
    imbalance_n: f64,
    /// Sum of the squares of all forces left on floats, N².
    left_n2: f64,
    switched: bool,
}

impl Residual {
    fn is_balanced(&self) -> bool {
        self.gap_m <= CLOSED_M && self.net_n <= FREE_N && self.imbalance_n <= IMBALANCE_N && !self.switched
    }
}

impl FloatState {
    pub(crate) fn end_depth_m(&self) -> f64 {
        self.under_m + self.down_m
    }

    /// Goes under when it has more to carry than it can, comes up again when it is drawn above the surface.
    fn switch(&mut self, load_n: f64) -> bool {
        let Some(carries_n) = self.tether.carries_n else { return false };
        let (was, is) = (self.is_under, if self.is_under { self.under_m >= 0.0 } else { load_n > carries_n });
        self.is_under = is;
        if was && !is {
            self.under_m = 0.0;
        }
        was != is
    }

    /// Drag and wind on everything that hangs on the float beside the baskets, and its change with the water's velocity.
    fn drag(&self, profile: &Profile) -> ([f64; 2], [[f64; 2]; 2]) {
        let drag = self.tether.drag(profile, self.under_m, self.velocity_m_s);
        let (mut force, mut by_water) = (drag.force_n, drag.by_water);
        let mut add = |half_rho_area: f64, depth_m: f64, range_m: f64| {
            let (more, _, by) =
                pressure(profile, half_rho_area, (depth_m, range_m), self.velocity_m_s, self.tether.rounding, &mut 0);
            for axis in 0..2 {
                force[axis] += more[axis];
                by_water[axis][0] += by[axis][0];
                by_water[axis][1] += by[axis][1];
            }
        };
        if let Some((half_rho_area, depth_m)) = self.drogue {
            add(half_rho_area, depth_m, 0.0);
        }
        for (half_rho_width, length_m) in &self.tails {
            add(half_rho_width * length_m, self.end_depth_m(), *length_m);
        }
        (force, by_water)
    }
}

/// A basket marched once, with its pull taken out of the equations.
#[derive(Debug, Clone)]
pub(crate) struct Marched {
    gap: Vector,
    imbalance_n: f64,
    /// R⁻¹, with R = ∂reach/∂pull.
    back: Matrix,
    reach_by: [Vector; 4],
    end_by_pull: Matrix,
    end_by_first: Matrix,
    end_by_last: Matrix,
}

impl Marched {
    fn new(landing: &Landing<7>, gap: Vector) -> Option<Self> {
        let by = &landing.reach_by;
        let reach = [[by[0][0], by[1][0], by[2][0]], [by[0][1], by[1][1], by[2][1]], [by[0][2], by[1][2], by[2][2]]];
        let pull = &landing.pull_by;
        let columns = |a: Vector, b: Vector, c: Vector| [[a[0], b[0], c[0]], [a[1], b[1], c[1]], [a[2], b[2], c[2]]];
        Some(Self {
            gap,
            imbalance_n: landing.imbalance_n,
            back: inverse(&reach)?,
            reach_by: [by[3], by[4], by[5], by[6]],
            end_by_pull: columns(pull[0], pull[1], pull[2]),
            end_by_first: columns(pull[3], pull[4], [0.0; 3]),
            end_by_last: columns(pull[5], pull[6], [0.0; 3]),
        })
    }

    /// Change of the first pull with the first float's velocity (over a step) and depth.
    fn pull_by_first(&self, step_s: f64) -> Matrix {
        self.pull_by([self.reach_by[0], self.reach_by[1]], step_s, 1.0)
    }

    fn pull_by_last(&self, step_s: f64) -> Matrix {
        self.pull_by([self.reach_by[2], self.reach_by[3]], step_s, -1.0)
    }

    fn pull_by(&self, reach_by: [Vector; 2], step_s: f64, sign: f64) -> Matrix {
        let x = [reach_by[0][0] + sign * step_s, reach_by[0][1], reach_by[0][2]];
        let y = [reach_by[1][0], reach_by[1][1] + sign * step_s, reach_by[1][2]];
        let gap_by = [[x[0], y[0], 0.0], [x[1], y[1], 0.0], [x[2], y[2], sign]];
        product(&self.back, &gap_by).map(|row| row.map(|value| -value))
    }
}

enum Side {
    Left,
    Own,
    Right,
}

/// Adds a block to a float's horizontal equations, and to its vertical one where the float is under.
fn add(row: &mut Row, side: Side, block: &Matrix, is_under: bool) {
    let target = match side {
        Side::Left => &mut row.left,
        Side::Own => &mut row.own,
        Side::Right => &mut row.right,
    };
    for axis in 0..if is_under { 3 } else { 2 } {
        for other in 0..3 {
            target[axis][other] += block[axis][other];
        }
    }
}

fn take_known(row: &mut Row, known: Vector, is_under: bool) {
    for axis in 0..if is_under { 3 } else { 2 } {
        row.known[axis] += known[axis];
    }
}

/// −(a + b).
fn minus_plus(a: &Matrix, b: &Matrix) -> Matrix {
    let mut out = [[0.0; 3]; 3];
    for row in 0..3 {
        for column in 0..3 {
            out[row][column] = -(a[row][column] + b[row][column]);
        }
    }
    out
}
